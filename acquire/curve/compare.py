"""Before and after the rebuild: the change at each speed that both sweeps share, with its doubt.

What both readings have in common (the gain of one clamp used twice) cancels from their difference:
u^2 = u_before^2 + u_after^2 - 2 sum of common parts multiplied (JCGM 100:2008, 5.2.2 and F.1.2.3).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import TYPE_CHECKING

from acquire.curve.points import NORMAL_95
from acquire.judge.slopes import neighbour_slopes

if TYPE_CHECKING:
    from acquire.judge.steady_point import SteadyPoint

ONE_SPEED = 0.02
"""Speeds closer than this share of each other are compared; the rest is moved by the slope."""


@dataclass(frozen=True, slots=True)
class ComparedRow:
    """One reading of one of the two sweeps. `u_amps` is None where nobody knows it."""

    shaft_rpm: float
    amps: float
    u_amps: float | None = None
    """Standard uncertainty of `amps`, all parts, the speed's own included where it is known."""
    u_shaft_rpm: float = 0.0
    """Standard uncertainty of the speed where `u_amps` does not hold it yet."""
    common: Mapping[str, float] = field(default_factory=dict)
    """Parts of `u_amps` that recur in every reading of the same instrument: name, signed A."""


@dataclass(frozen=True, slots=True)
class Change:
    """What the current did at one speed."""

    shaft_rpm: float
    before_amps: float
    after_amps: float
    u_change_amps: float | None

    @property
    def change_amps(self) -> float:
        """After less before, A."""
        return self.after_amps - self.before_amps

    @property
    def significant(self) -> bool | None:
        """Whether the change stands out of its doubt (95 %); None where no doubt is known."""
        if self.u_change_amps is None:
            return None
        return abs(self.change_amps) > NORMAL_95 * self.u_change_amps

    def as_json(self) -> dict[str, float | bool | None]:
        """The change with the keys of `compare`."""
        return {
            "shaft_rpm": self.shaft_rpm,
            "before_amps": self.before_amps,
            "after_amps": self.after_amps,
            "change_amps": self.change_amps,
            "u_change_amps": self.u_change_amps,
            "significant": self.significant,
        }


@dataclass(frozen=True, slots=True)
class Comparison:
    """The changes at the speeds both sweeps share, and the speeds only one of them has."""

    points: tuple[Change, ...]
    only_before_rpm: tuple[float, ...]
    only_after_rpm: tuple[float, ...]

    def as_json(self) -> dict[str, object]:
        """The comparison with the key `points`, and beside it the speeds left over and words."""
        return {
            "points": [change.as_json() for change in self.points],
            "only_before_rpm": list(self.only_before_rpm),
            "only_after_rpm": list(self.only_after_rpm),
            "words": self.words(),
        }

    def words(self) -> str:
        """What was gained or lost, in a sentence or two."""
        if not self.points:
            return "The two sweeps share no speed: nothing can be compared."
        if all(change.significant is None for change in self.points):
            listed = "; ".join(_words(change) for change in self.points)
            return f"{listed}. The readings came without uncertainty: none of it is proved."
        sure = [change for change in self.points if change.significant]
        if not sure:
            return "No change stands out of the doubt of the readings."
        listed = "; ".join(_words(change) for change in sure)
        rest = len(self.points) - len(sure)
        return f"{listed}." + (f" At {rest} other speed(s) no sure change." if rest else "")


def _words(change: Change) -> str:
    verb = "gained" if change.change_amps >= 0 else "lost"
    share = (
        f" ({100 * abs(change.change_amps) / change.before_amps:.0f} %)"
        if change.before_amps > 0
        else ""
    )
    return f"{verb} {abs(change.change_amps):.1f} A{share} at {change.shaft_rpm:.0f} rpm"


def compare(before: Sequence[ComparedRow], after: Sequence[ComparedRow]) -> Comparison:
    """The change at every speed of `before` that `after` has too, within 2 %.

    The reading after is moved to the speed of the reading before by its local slope. Rows of one
    speed (a sweep up and down) count as their mean.
    """
    ours, theirs = _merged(before), _merged(after)
    slopes = neighbour_slopes([(row.shaft_rpm, row.amps) for row in theirs])
    changes: list[Change] = []
    left_over = list(range(len(theirs)))
    only_before: list[float] = []
    for row in ours:
        index = _nearest(row, theirs, left_over)
        if index is None:
            only_before.append(row.shaft_rpm)
            continue
        left_over.remove(index)
        slope = slopes[index]
        moved = _moved(
            theirs[index],
            row.shaft_rpm,
            slope=slope.value if slope else 0.0,
            u_slope=slope.u if slope else 0.0,
        )
        changes.append(_change(_with_speed(row, slope.value if slope else 0.0), moved))
    return Comparison(
        tuple(changes), tuple(only_before), tuple(theirs[index].shaft_rpm for index in left_over)
    )


def compared_rows(points: Iterable[SteadyPoint], *, same_instruments: bool) -> list[ComparedRow]:
    """Steady points of a run as rows; those without figures are left out.

    `same_instruments` says that the other run was read with the very same meters: only then do
    common parts cancel.
    """
    rows = (_row(point, same_instruments) for point in points)
    return [row for row in rows if row is not None]


def _row(point: SteadyPoint, same_instruments: bool) -> ComparedRow | None:
    if point.shaft_rpm is None or point.amps is None:
        return None
    common = {}
    if same_instruments and point.budget is not None:
        parts = (part for part in point.budget.parts if part.common)
        common = {f"{part.kind}: {part.name}": part.amps for part in parts}
    if point.amps_at_set_rpm is not None:
        return ComparedRow(
            point.set_rpm, point.amps_at_set_rpm, point.u_amps_at_set_rpm or None, common=common
        )
    u_rpm = point.u_shaft_rpm or 0.0
    return ComparedRow(point.shaft_rpm, point.amps, point.u_amps or None, u_rpm, common)


def _merged(rows: Sequence[ComparedRow]) -> list[ComparedRow]:
    ordered = sorted(rows, key=lambda row: row.shaft_rpm)
    return [_mean(list(group)) for _, group in groupby(ordered, key=lambda row: row.shaft_rpm)]


def _mean(rows: list[ComparedRow]) -> ComparedRow:
    """The mean of rows of one speed, with the largest of their doubts and half their gap."""
    amps = [row.amps for row in rows]
    known = [row.u_amps for row in rows if row.u_amps is not None]
    gap = (max(amps) - min(amps)) / 2
    u_amps = math.hypot(max(known), gap) if len(known) == len(rows) else None
    return replace(rows[0], amps=math.fsum(amps) / len(amps), u_amps=u_amps)


def _nearest(row: ComparedRow, others: Sequence[ComparedRow], free: Sequence[int]) -> int | None:
    near = [
        (abs(others[index].shaft_rpm - row.shaft_rpm), index)
        for index in free
        if abs(others[index].shaft_rpm - row.shaft_rpm) <= ONE_SPEED * row.shaft_rpm
    ]
    return min(near)[1] if near else None


def _moved(row: ComparedRow, to_rpm: float, *, slope: float, u_slope: float) -> ComparedRow:
    by_rpm = to_rpm - row.shaft_rpm
    here = _with_speed(row, slope)
    u_amps = None if here.u_amps is None else math.hypot(here.u_amps, by_rpm * u_slope)
    return replace(here, shaft_rpm=to_rpm, amps=row.amps + slope * by_rpm, u_amps=u_amps)


def _with_speed(row: ComparedRow, slope: float) -> ComparedRow:
    if row.u_amps is None:
        return row
    return replace(row, u_amps=math.hypot(row.u_amps, slope * row.u_shaft_rpm), u_shaft_rpm=0.0)


def _change(before: ComparedRow, after: ComparedRow) -> Change:
    u_change_amps = None
    if before.u_amps is not None and after.u_amps is not None:
        shared = math.fsum(
            part * after.common.get(name, 0.0) for name, part in before.common.items()
        )
        variance = before.u_amps**2 + after.u_amps**2 - 2 * shared
        u_change_amps = math.sqrt(max(variance, 0.0))
    return Change(before.shaft_rpm, before.amps, after.amps, u_change_amps)
