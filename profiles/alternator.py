"""The profile of an alternator: what it is, and the rated curve it is judged against."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field

from profiles.errors import ProfileError
from profiles.plain_text import shown
from profiles.plate import Plate, parse_plate
from profiles.table import (
    Fault,
    Listed,
    Positive,
    ProfileFile,
    ShaftRpm,
    Table,
    Words,
    Wrong,
)

Point = tuple[float, float]
"""(shaft speed [rpm], current [A])"""
State = Literal["warm", "cold"]
Regulator = Literal["internal", "external", "commanded", "none"]
FieldFeed = Literal["fed by unit", "fed from bench"]

HIGHEST_AMPS = 2000.0
HIGHEST_RPM = 30000.0
LARGEST_FALL = 0.10
"""A rated curve may fall this much below its highest point; more is a typing error."""
SAME_AMPS = 0.01
"""How well points and marking must agree where both give the current at one speed."""

PLAUSIBLE_VOLTS = {12: (12.0, 15.5), 24: (24.0, 31.0), 36: (36.0, 46.5), 48: (48.0, 62.0)}
"""Test voltages that fit a nominal battery [V] (common practice, no source)."""


def _points(value: object) -> object:
    """Turn `[[rpm, amps], …]` into pairs; every wrong entry is told by its number."""
    if not isinstance(value, list | tuple):
        raise Wrong(f"must be a list of [rpm, amps]; it is {shown(value)}.", _POINTS_LIKE)
    if not value:
        raise Wrong("must have at least one point.", _POINTS_LIKE)
    wrong = [text for number, entry in enumerate(value, 1) if (text := _point_wrong(number, entry))]
    if wrong:
        wrong += _falling(value)
        more = f"; and {len(wrong) - 5} more" if len(wrong) > 5 else ""
        raise Wrong("; ".join(wrong[:5]) + f"{more}.", _POINTS_LIKE)
    points = tuple((float(rpm), float(amps)) for rpm, amps in value)
    _ascending(points)
    return points


_POINTS_LIKE = "Write them as points = [[1500, 45.0], [6000, 90.0]], the speeds rising."


def _point_wrong(number: int, entry: object) -> str:
    if not isinstance(entry, list | tuple) or len(entry) != 2 or not all(map(_is_number, entry)):
        return f"point {number} must be a pair [rpm, amps]; it is {shown(entry)}"
    rpm, amps = entry
    if not 0 < rpm <= HIGHEST_RPM:
        return f"point {number} has {shown(rpm)} rpm; a speed lies between 0 and {HIGHEST_RPM:g}"
    if not 0 <= amps <= HIGHEST_AMPS:
        return f"point {number} has {shown(amps)} A; a current lies between 0 and {HIGHEST_AMPS:g}"
    return ""


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _falling(entries: Sequence[object]) -> list[str]:
    """What is wrong with the order of those points that can be read."""
    readable = [
        (number, float(entry[0]))
        for number, entry in enumerate(entries, 1)
        if isinstance(entry, list | tuple) and len(entry) == 2 and _is_number(entry[0])
        if abs(entry[0]) <= sys.float_info.max
    ]
    return [
        f"point {number} ({rpm:g} rpm) does not rise above {before:g} rpm"
        for (_, before), (number, rpm) in pairwise(readable)
        if rpm <= before
    ]


def _ascending(points: tuple[Point, ...]) -> None:
    highest = 0.0
    if falling := _falling(points):
        raise Wrong("; ".join(falling) + ".", _RISE)
    for number, (_, amps) in enumerate(points, 1):
        highest = max(highest, amps)
        if amps < highest * (1.0 - LARGEST_FALL):
            raise Wrong(f"point {number} falls to {amps:g} A after {highest:g} A.", _FALL)


_RISE = "List the points by rising speed, each speed once."
_FALL = "An output curve rises and then stays; check the figures of that point."


_SPEED_KEYS = (
    "alternator.idle_rpm",
    "alternator.rated_rpm",
    "rated.idle_rpm",
    "rated.rated_rpm",
)


class Unit(Table):
    """What the alternator is, apart from its output."""

    system_volts: Literal[12, 24, 36, 48] = Field(description="12, 24, 36 or 48 (nominal battery)")
    marking: Words | None = None
    """The plate, as in `45/90A 13.5V`."""
    idle_rpm: ShaftRpm | None = None
    """Speed of the first current of the marking."""
    rated_rpm: ShaftRpm | None = None
    """Speed of the last current of the marking."""
    max_shaft_rpm: ShaftRpm | None = None
    pole_pairs: Annotated[int, Field(ge=1, le=24)] | None = None
    regulator: Regulator = "internal"
    command: Words | None = None
    """What a commanded unit is told, as in `14.5 V over LIN`; without it there is no verdict."""
    field: FieldFeed = "fed by unit"
    needs: Annotated[tuple[Words, ...], Listed] = ()
    """Wiring to be ticked before the drive turns."""
    turns: Literal["cw", "ccw", "either"] = "either"
    """Seen from the drive end."""
    isolated_earth: bool = False


class Rated(Table):
    """The rated curve and the conditions it holds for."""

    STAND_INS: ClassVar[dict[str, object]] = {"state": "warm"}

    volts: Positive = Field(description="the test voltage, such as volts = 13.5")
    state: State = Field(description='"warm" or "cold"')
    source: Words | None = None
    points: Annotated[tuple[Point, ...], BeforeValidator(_points)] | None = None
    idle_rpm: ShaftRpm | None = None
    """As `alternator.idle_rpm`; the speeds of the marking may stand in either table."""
    rated_rpm: ShaftRpm | None = None


@dataclass(frozen=True, slots=True)
class RatedCurve:
    """What a unit should give: the rated curve with all that the verdict needs to know of it."""

    title: str
    volts: float
    state: State
    points: tuple[Point, ...]
    """(shaft speed [rpm], current [A]) by rising speed."""
    derived: bool
    """Made from the marking: judged at its speeds only, and shown as derived."""
    source: str
    system_volts: float
    max_shaft_rpm: float | None
    pole_pairs: int | None
    regulator: Regulator
    command: str | None
    field: FieldFeed
    marking: str | None
    needs: tuple[str, ...]
    turns: str
    isolated_earth: bool


class AlternatorProfile(ProfileFile):
    """A file of the folder `alternators`."""

    alternator: Unit = Field(description="the table [alternator]")
    rated: Rated = Field(description="the table [rated]")

    @property
    def idle_rpm(self) -> float | None:
        """Speed of the marking's first current [rpm]."""
        return self.alternator.idle_rpm or self.rated.idle_rpm

    @property
    def rated_rpm(self) -> float | None:
        """Speed of the marking's last current [rpm]."""
        return self.alternator.rated_rpm or self.rated.rated_rpm

    def rated_curve(self) -> RatedCurve:
        """Give the rated curve: the points of the file, or those derived from the marking.

        Raises:
            ProfileError: the marking cannot be read (not for a profile that came from a file).
        """
        unit, rated = self.alternator, self.rated
        return RatedCurve(
            title=self.title,
            volts=rated.volts,
            state=rated.state,
            points=rated.points or self._marked_points(),
            derived=rated.points is None,
            source=rated.source or "",
            system_volts=float(unit.system_volts),
            max_shaft_rpm=unit.max_shaft_rpm,
            pole_pairs=unit.pole_pairs,
            regulator=unit.regulator,
            command=unit.command,
            field=unit.field,
            marking=unit.marking,
            needs=unit.needs,
            turns=unit.turns,
            isolated_earth=unit.isolated_earth,
        )

    def _marked_points(self) -> tuple[Point, ...]:
        """Points of the marking and its speeds; empty where they do not make a curve."""
        if self.alternator.marking is None or self.rated_rpm is None:
            return ()
        plate = parse_plate(self.alternator.marking)
        rated = (self.rated_rpm, plate.rated_amps)
        if plate.idle_amps is None or self.idle_rpm is None:
            return (rated,)
        return ((self.idle_rpm, plate.idle_amps), rated)

    def faults(self) -> Iterator[Fault]:
        """Check the voltage against the battery, and that there is exactly one curve."""
        yield from self._volts_faults()
        yield from self._speed_faults()
        plate, marking_faults = self._plate()
        yield from marking_faults
        yield from self._curve_faults(plate)

    def _volts_faults(self) -> Iterator[Fault]:
        system = self.alternator.system_volts
        low, high = PLAUSIBLE_VOLTS[system]
        if not low <= self.rated.volts <= high:
            yield Fault(
                "rated.volts",
                f"is {self.rated.volts:g} V, which does not fit a {system} V system.",
                f"Give a test voltage between {low:g} and {high:g} V, or mend system_volts.",
                ("alternator.system_volts",),
            )

    def _speed_faults(self) -> Iterator[Fault]:
        for name in ("idle_rpm", "rated_rpm"):
            here, there = getattr(self.alternator, name), getattr(self.rated, name)
            if here is not None and there is not None and here != there:
                yield Fault(
                    f"rated.{name}",
                    f"is {there:g} rpm, and alternator.{name} is {here:g} rpm.",
                    "Give it once.",
                )
        if self.idle_rpm and self.rated_rpm and self.idle_rpm >= self.rated_rpm:
            yield Fault(
                f"{self._home('idle_rpm')}.idle_rpm",
                f"is {self.idle_rpm:g} rpm, not below rated_rpm = {self.rated_rpm:g} rpm.",
                "The first speed of a marking is the lower one.",
                ("alternator.rated_rpm", "rated.rated_rpm"),
            )
        yield from self._overspeed()

    def _overspeed(self) -> Iterator[Fault]:
        top = self.alternator.max_shaft_rpm
        points = self.rated.points
        if top is not None and points and points[-1][0] > top:
            yield Fault(
                "alternator.max_shaft_rpm",
                f"is {top:g} rpm, below the last rated point at {points[-1][0]:g} rpm.",
                "One of the two is wrong; the shaft is never turned faster than this.",
                ("rated.points",),
            )

    def _home(self, name: str) -> str:
        return "rated" if getattr(self.alternator, name) is None else "alternator"

    def _plate(self) -> tuple[Plate | None, list[Fault]]:
        if self.alternator.marking is None:
            return None, []
        try:
            plate = parse_plate(self.alternator.marking)
        except ProfileError as error:
            said = error.problems[0]
            return None, [Fault("alternator.marking", said.message, said.what_to_do)]
        return plate, [] if plate.rated_amps <= HIGHEST_AMPS else [_too_many_amps(plate)]

    def _curve_faults(self, plate: Plate | None) -> Iterator[Fault]:
        if self.rated.points is not None:
            yield from self._disagreement(plate)
        elif self.alternator.marking is None:
            yield Fault(
                "rated.points",
                "is missing, and there is no marking to derive a curve from.",
                "Give points = [[rpm, amps], …], or alternator.marking with its speeds.",
                ("alternator.marking",),
            )
        elif plate is not None:
            yield from self._marking_speeds(plate)

    def _marking_speeds(self, plate: Plate) -> Iterator[Fault]:
        speeds = (*_SPEED_KEYS, "rated.points")
        if plate.idle_rpm or plate.rated_rpm:
            yield Fault(
                "alternator.marking",
                "holds speeds after an @.",
                "Write them as idle_rpm = … and rated_rpm = … beside the marking.",
            )
        if self.rated_rpm is None:
            yield Fault(
                "alternator.rated_rpm",
                "is missing, so the marking gives no curve.",
                "Add the speed at which the marking's last current holds, or rated.points.",
                speeds,
            )
        if plate.idle_amps is not None and self.idle_rpm is None:
            yield Fault(
                "alternator.idle_rpm",
                f"is missing, so the {plate.idle_amps:g} A of the marking have no speed.",
                "Add the speed at which the marking's first current holds.",
                speeds,
            )
        if plate.idle_amps is None and self.idle_rpm is not None:
            yield Fault(
                f"{self._home('idle_rpm')}.idle_rpm",
                "is given, but the marking has no first current.",
                'Write the marking as in "45/90A 13.5V", or leave idle_rpm out.',
            )

    def _disagreement(self, plate: Plate | None) -> Iterator[Fault]:
        """Points and a marking with speeds may stand together only where they say the same."""
        if plate is None or self.rated.points is None:
            return
        listed = dict(self.rated.points)
        for rpm, amps in self._marked_points():
            if rpm in listed and abs(listed[rpm] - amps) > SAME_AMPS * amps:
                yield Fault(
                    "rated.points",
                    f"give {listed[rpm]:g} A at {rpm:g} rpm, and the marking gives {amps:g} A.",
                    "Give the curve once: either points, or the marking with its speeds.",
                    ("alternator.marking",),
                )


def _too_many_amps(plate: Plate) -> Fault:
    return Fault(
        "alternator.marking",
        f"says {plate.rated_amps:g} A; a current lies between 0 and {HIGHEST_AMPS:g} A.",
        "Mend the figure.",
    )


def profile_of_plate(text: str, plate: Plate) -> dict[str, Any]:
    """Write a plate with its speeds as the content of a profile.

    Raises:
        ProfileError: no test voltage of this kind fits a 12, 24, 36 or 48 V system.
    """
    speeds = {"idle_rpm": plate.idle_rpm, "rated_rpm": plate.rated_rpm}
    unit = {"system_volts": _system_volts(plate.volts), "marking": text.partition("@")[0].strip()}
    unit |= {name: rpm for name, rpm in speeds.items() if rpm is not None}
    return {
        "title": " ".join(text.split()),
        "alternator": unit,
        "rated": {
            "volts": plate.volts,
            "state": "warm",
            "source": "read from a plate, taken as warm (common practice, no source)",
        },
    }


def _system_volts(volts: float) -> int:
    for system, (low, high) in PLAUSIBLE_VOLTS.items():
        if low <= volts <= high:
            return system
    ranges = ", ".join(f"{low:g} to {high:g} V" for low, high in PLAUSIBLE_VOLTS.values())
    raise Wrong(f"says {volts:g} V, which fits no system.", f"Test voltages are {ranges}.")
