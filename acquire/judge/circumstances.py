"""How a run was made, as far as its verdict depends on it; and what is refused outright."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from typing import Literal

from acquire.judge.steady_point import SteadyPoint
from profiles.errors import BenchError

WARM_AT_LEAST_S = 60.0
"""A warm-up shorter than this leaves a unit cold."""
WARMER_BY_C = 15.0
"""A case so much warmer after a resume than at the first step: no longer the cold unit it was
begun with (our own choice, no source)."""


class BadPoint(BenchError):
    """A measured point that cannot be judged: a figure is no number, or impossible."""


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What the verdict must know of the run besides its points."""

    state: Literal["warm", "cold"] | None = None
    """None = not known: taken as the rating's, and said to be."""
    test_volts: float | None = None
    """The voltage the method held; None = the rated one."""
    volts_within: float = 0.1
    command: str | None = None
    """What a commanded unit was told, where the rated curve does not say it."""
    cut_in_rpm: float | None = None
    """Of this unit, where the fit gives it: places the hot loss on its own curve."""
    air_c: float = 25.0
    """Air the unit is warm in by its rating [°C]."""
    stopped: str = ""
    """Why the run was stopped early; empty for a run that went through."""
    never_goes_on: bool = False
    """True for a stopped run that cannot be resumed."""
    beyond_a_limit: bool = False
    """True for a run that was stopped because a figure passed a limit of the rig."""
    unsteady_rpm: tuple[float, ...] = ()
    """Speeds at which the current came and went in bursts."""
    gone_on_warm_c: tuple[float, float] | None = None
    """Case at the first step and at the first after a resume, where that is well above [°C]."""
    did_not_stop: bool = False
    """The bench did not come to rest by itself at the end."""
    load_off: bool = False
    """The load stayed off, for want of a test voltage: the currents are what the battery took."""
    load_holds: bool = False
    """True where the load holds the test voltage by itself, and no hand does."""
    from_elsewhere: bool = False
    """True for points that did not come from a run of ours: words say `given`, not `measured`."""


def run_state(*, asked_s: float | None, ran_s: float, steady: bool) -> Literal["warm", "cold"]:
    """Say whether a run counts as warm.

    Warm = a warm-up of at least 60 s ran its full time, or became steady; all else is cold.
    """
    if asked_s is None:
        return "cold"
    full = asked_s >= WARM_AT_LEAST_S and ran_s >= asked_s
    return "warm" if full or steady else "cold"


def gone_on_warm(
    points: Sequence[SteadyPoint], went_on_after: Iterable[frozenset[int]]
) -> tuple[float, float] | None:
    """Case [°C] at the first step and where a resumed run was well above it; None where it was not.

    `points` in the order they were taken; `went_on_after`: the steps there were at each resume.
    """
    known = [(point.step, point.case_c) for point in points if point.case_c is not None]
    for done in went_on_after:
        later = [case_c for step, case_c in known if step not in done]
        if known and known[0][0] in done and later and later[0] - known[0][1] >= WARMER_BY_C:
            return known[0][1], later[0]
    return None


def refuse_bad_points(points: Iterable[SteadyPoint]) -> None:
    """Refuse figures that are no numbers, uncertainties below 0, and impossible speeds or volts.

    Raises:
        BadPoint: Names the point, the figure and what is wrong with it.
    """
    for point in points:
        for name in _FIGURES:
            value = getattr(point, name)
            if value is not None and not math.isfinite(value):
                raise _bad(point, name, value, "is not a number")
            if value is not None and value < 0.0 and name in _NOT_NEGATIVE:
                raise _bad(point, name, value, "is below 0")


_NOT_NEGATIVE = frozenset({"set_rpm", "shaft_rpm", "u_shaft_rpm", "u_amps", "u_volts"}) | {
    "u_amps_at_set_rpm"
}
_FIGURES = tuple(
    field.name
    for field in reversed(fields(SteadyPoint))
    if field.name.endswith(("_rpm", "amps", "volts", "_c"))
)


def _bad(point: SteadyPoint, name: str, value: float, what: str) -> BadPoint:
    return BadPoint(
        f"Point {point.step}: {name} = {value} {what}.",
        what_to_do="Correct that figure, or leave it empty where it is not known.",
    )
