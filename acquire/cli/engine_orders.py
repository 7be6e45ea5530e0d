"""The customer's engine as it is typed: pulleys or ratio, and its speeds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from acquire.errors import OrderError
from acquire.typed_number import typed_number
from profiles.plain_text import shown

if TYPE_CHECKING:
    from acquire.match.pulley import BeltDrive


def belt_drive(
    *, engine_mm: float | None, unit_mm: float | None, ratio: float | None, slip: float
) -> BeltDrive:
    """The belt drive of both pulleys' pitch diameters [mm], or of a ratio alone; slip in percent.

    Raises:
        OrderError: If neither or both are given.
    """
    from acquire.match.pulley import BeltDrive

    if ratio is not None and engine_mm is None and unit_mm is None:
        return BeltDrive(ratio, slip_percent=slip)
    if ratio is None and engine_mm is not None and unit_mm is not None:
        return BeltDrive.from_pulleys(engine_mm=engine_mm, alternator_mm=unit_mm, slip_percent=slip)
    raise OrderError(
        "The pulleys are not known.",
        what_to_do="Give --engine-pulley and --alternator-pulley in mm, or --ratio alone.",
    )


def cruise_range(text: str) -> tuple[float, float]:
    """The engine speeds of `--cruise`: one, or a range as in 1400..2200 [rpm].

    Raises:
        OrderError: If it is neither.
    """
    low, _, high = text.partition("..")
    speeds = typed_number(low), typed_number(high or low)
    if isinstance(speeds[0], str) or isinstance(speeds[1], str):
        why = next(one for one in speeds if isinstance(one, str))
        raise OrderError(
            f"--cruise: {shown(text)} is no engine speed. {why}",
            what_to_do="Write one speed, or a range as in 1400..2200.",
        )
    return speeds[0], speeds[1]
