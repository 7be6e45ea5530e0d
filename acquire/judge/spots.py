"""The speeds to be judged, and what was measured at each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from acquire.judge.acceptance import limit_at
from acquire.judge.budget import Budget, Part
from acquire.judge.figure import Figure, by_speed, figure_at, merged
from acquire.judge.rated_line import Point, rated_at, rated_slope_at
from acquire.judge.speed_result import Why
from acquire.judge.steady_point import SteadyPoint, within_reach
from acquire.plain_sum import plain_sum
from profiles.alternator import RatedCurve
from profiles.rule import Accept

At = Literal["rated speeds", "measured speeds"]

MEANT_WITHIN = 0.1
"""A row this near to an unmeasured speed is named beside it."""


@dataclass(frozen=True, slots=True)
class Spot:
    """One speed of the verdict's table."""

    shaft_rpm: float
    rated_amps: float | None
    """None where nothing is rated: the row is shown, not judged."""
    figure: Figure | None
    """None where nothing was measured within 2 %."""
    nearest_rpm: tuple[float, ...] = ()
    """The nearest measured speed, where that is too far away."""
    why: Why = ""

    @property
    def is_judged(self) -> bool:
        """True when both sides are known."""
        return self.rated_amps is not None and self.figure is not None


def spots_for(
    points: Sequence[SteadyPoint],
    *,
    rated: RatedCurve,
    accept: Accept,
    at: At,
    test_volts: float,
) -> list[Spot]:
    """Give the speeds of the verdict by rising speed.

    At rated speeds: each tabulated speed, measured or not, then the rows that belong to none. At
    measured speeds: each measured speed between the first and last rated one against the straight
    line; outside it a row is shown and not judged.
    """
    if at == "rated speeds":
        spots = _at_rated(points, rated.points, test_volts)
    else:
        spots = _at_measured(points, rated.points, accept, test_volts)
    return sorted(spots, key=lambda spot: spot.shaft_rpm)


def _at_rated(
    points: Sequence[SteadyPoint], table: Sequence[Point], test_volts: float
) -> list[Spot]:
    spots = []
    for rpm, amps in table:
        figure = figure_at(rpm, points, test_volts=test_volts)
        nearest = () if figure else _nearest_rpm(points, rpm)
        spots.append(Spot(rpm, amps, figure, nearest))
    used = {step for spot in spots if spot.figure for step in spot.figure.steps}
    rest = [point for point in points if point.usable and point.step not in used]
    return spots + [own_row(point, test_volts) for point in rest]


def _at_measured(
    points: Sequence[SteadyPoint], table: Sequence[Point], accept: Accept, test_volts: float
) -> list[Spot]:
    first, last = table[0][0], table[-1][0]
    spots = []
    for rows in _rows_together(points):
        rpm = _inside(_mean_rpm(rows), first, last)
        rated_amps = rated_at(table, rpm)
        if rated_amps is None:
            spots += [replace(own_row(row, test_volts), why="outside") for row in rows]
        else:
            figure = merged(rpm, rows, test_volts=test_volts)
            spots.append(Spot(rpm, rated_amps, _against_line(figure, table, rated_amps, accept)))
    return spots


def own_row(point: SteadyPoint, test_volts: float) -> Spot:
    """Give a usable row that no limit belongs to."""
    at_set = point.amps_at_set_rpm is not None or point.shaft_rpm is None
    rpm = point.set_rpm if at_set else point.shaft_rpm or point.set_rpm
    return Spot(rpm, None, merged(rpm, [point], test_volts=test_volts))


def _rows_together(points: Sequence[SteadyPoint]) -> list[list[SteadyPoint]]:
    """Rows of one set speed, apart again where their speeds came out too far from each other."""
    together: list[list[SteadyPoint]] = []
    for rows in by_speed(points):
        mean = _mean_rpm(rows)
        near = all(row.shaft_rpm and within_reach(row.shaft_rpm, mean) for row in rows)
        together += [rows] if near else [[row] for row in rows]
    return together


def _inside(rpm: float, first: float, last: float) -> float:
    """A speed just outside the rated ones counts as the end, to which it may be moved."""
    end = min(max(rpm, first), last)
    return end if within_reach(rpm, end) else rpm


def _mean_rpm(rows: Sequence[SteadyPoint]) -> float:
    speeds = [row.shaft_rpm for row in rows if row.shaft_rpm is not None]
    return plain_sum(speeds) / len(speeds)


def _nearest_rpm(points: Sequence[SteadyPoint], rpm: float) -> tuple[float, ...]:
    """The nearest measured speed, where it is near enough to have been meant."""
    speeds = [point.shaft_rpm for point in points if point.usable and point.shaft_rpm is not None]
    near = [speed for speed in speeds if abs(speed - rpm) <= MEANT_WITHIN * rpm]
    return (min(near, key=lambda speed: abs(speed - rpm)),) if near else ()


def _against_line(
    figure: Figure, table: Sequence[Point], rated_amps: float, accept: Accept
) -> Figure:
    """Weigh the speed's doubt by how current *and* limit change with speed.

    An error of the speed moves the reading and the limit it is held against together.
    """
    if figure.budget is None:
        return figure
    rise = limit_at(rated_amps + 1.0, accept) - limit_at(rated_amps, accept)
    limit_slope = rated_slope_at(table, figure.shaft_rpm) * rise
    parts = tuple(_against(part, limit_slope) for part in figure.budget.parts)
    return replace(figure, budget=Budget(parts, figure.budget.missing))


def _against(part: Part, limit_slope: float) -> Part:
    if part.kind not in ("speed scatter", "speed accuracy"):
        return part
    return replace(part, sensitivity=part.sensitivity - limit_slope)
