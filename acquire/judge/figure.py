"""What was measured for one judged speed: the rows there moved to it, several rows made one."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from acquire.judge.budget import Budget, Kind, Part, welch_satterthwaite
from acquire.judge.steady_point import Settled, SteadyPoint, moved, within_reach

SAME_SPEED_RPM = 5.0
"""Rows this near to each other are of one speed (the set speed is held to 5 rpm, ISO 8854:2012,
3.4)."""

GAP = "the gap between the rows at this speed"


@dataclass(frozen=True, slots=True)
class Figure:
    """The current at one speed, from one row or from the mean of several."""

    shaft_rpm: float
    """The speed the current is for."""
    amps: float
    budget: Budget | None
    """None where no uncertainty is known."""
    settled: Settled | None
    volts: float | None
    """Of the row farthest from the test voltage."""
    steps: tuple[int, ...]
    measured_rpm: tuple[float, ...]
    slope_known: bool

    @property
    def u_amps(self) -> float | None:
        """Standard uncertainty [A]."""
        return None if self.budget is None else self.budget.u

    @property
    def moved_rpm(self) -> float:
        """How far the farthest row was moved."""
        return max(abs(rpm - self.shaft_rpm) for rpm in self.measured_rpm)


def figure_at(
    shaft_rpm: float, points: Iterable[SteadyPoint], *, test_volts: float
) -> Figure | None:
    """Give what the rows within 2 % of a speed say about it; None where there is none.

    Of several speeds within reach the nearest is taken. Several rows there (up and down, or
    repeats) give their mean, and half of their gap is uncertainty.
    """
    reached = [
        point
        for point in points
        if point.shaft_rpm is not None
        and point.amps is not None
        and within_reach(point.shaft_rpm, shaft_rpm)
    ]
    if not reached:
        return None
    return merged(shaft_rpm, _nearest(shaft_rpm, reached), test_volts=test_volts)


def merged(shaft_rpm: float, rows: Sequence[SteadyPoint], *, test_volts: float) -> Figure:
    """Make one figure of rows that are all within reach of the speed."""
    there = [result for row in rows if (result := moved(row, shaft_rpm)) is not None]
    currents = [amps for amps, _ in there]
    budgets = [budget for _, budget in there if budget is not None]
    return Figure(
        shaft_rpm=shaft_rpm,
        amps=math.fsum(currents) / len(currents),
        budget=_mean_budget(budgets, currents) if len(budgets) == len(there) else None,
        settled=_worst([row.settled for row in rows]),
        volts=_farthest([row.volts for row in rows], test_volts),
        steps=tuple(row.step for row in rows),
        measured_rpm=tuple(row.shaft_rpm for row in rows if row.shaft_rpm is not None),
        slope_known=all(row.slope is not None for row in rows),
    )


def by_speed(points: Iterable[SteadyPoint]) -> list[list[SteadyPoint]]:
    """Group rows of one set speed, rising; rows without a speed or current are left out."""
    groups: list[list[SteadyPoint]] = []
    for point in sorted((p for p in points if p.usable), key=lambda p: p.set_rpm):
        if groups and point.set_rpm - groups[-1][0].set_rpm <= SAME_SPEED_RPM:
            groups[-1].append(point)
        else:
            groups.append([point])
    return groups


def _nearest(shaft_rpm: float, rows: Sequence[SteadyPoint]) -> list[SteadyPoint]:
    def distance(row: SteadyPoint) -> float:
        return abs(row.set_rpm - shaft_rpm)

    near = min(rows, key=distance)
    return [row for row in rows if abs(row.set_rpm - near.set_rpm) <= SAME_SPEED_RPM]


def _worst(states: Sequence[Settled | None]) -> Settled | None:
    order: tuple[Settled, ...] = ("no", "predicted", "yes")
    return next((state for state in order if state in states), None)


def _farthest(volts: Sequence[float | None], test_volts: float) -> float | None:
    known = [value for value in volts if value is not None]
    return max(known, key=lambda value: abs(value - test_volts), default=None)


def _mean_budget(budgets: Sequence[Budget], currents: Sequence[float]) -> Budget:
    if len(budgets) == 1:
        return budgets[0]
    kinds = dict.fromkeys(part.kind for budget in budgets for part in budget.parts)
    parts = [_mean_part(kind, budgets) for kind in kinds]
    half_gap = (max(currents) - min(currents)) / 2.0
    missing = tuple(dict.fromkeys(word for budget in budgets for word in budget.missing))
    return Budget(tuple(parts), missing).plus(Part("gap", GAP, half_gap))


def _mean_part(kind: Kind, budgets: Sequence[Budget]) -> Part:
    """Mean of one kind of part: one error where it is common or stated whole, else chance ones."""
    parts = [part for budget in budgets for part in budget.parts if part.kind == kind]
    count = len(budgets)
    if parts[0].common or kind == "stated":
        mean = math.fsum(part.amps for part in parts) / count
        return replace(parts[0], u=abs(mean), sensitivity=math.copysign(1.0, mean))
    pairs = [(part.u_amps, part.dof) for part in parts]
    return replace(
        parts[0],
        u=math.hypot(*(u for u, _ in pairs)) / count,
        sensitivity=1.0,
        dof=welch_satterthwaite(pairs),
    )
