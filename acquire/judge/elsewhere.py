"""Points from elsewhere, as in a CSV: judged with the uncertainties they came with, no others."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Literal

from acquire.curve.measured_point import MeasuredPoint
from acquire.judge.budget import Budget, Part
from acquire.judge.circumstances import Circumstances, refuse_bad_points
from acquire.judge.slopes import Slope, neighbour_slopes, slope_along, typical_volts_slope
from acquire.judge.steady_point import SteadyPoint
from acquire.judge.verdict import Verdict, judge
from profiles.alternator import RatedCurve
from profiles.rule import Accept


def judge_elsewhere(
    points: Sequence[MeasuredPoint],
    *,
    rated: RatedCurve,
    accept: Accept,
    state: Literal["warm", "cold"] | None = None,
    test_volts: float | None = None,
    volts_within: float = 0.1,
    slope: Callable[[float], float] | None = None,
) -> Verdict:
    """Judge points from elsewhere.

    The uncertainties given are the whole uncertainty (normal); nothing is added for columns that
    are absent. Without `u_amps` the decision is simple and no chance is given. Points count as
    independent. `slope` gives amps per rpm at a shaft speed, as from a fitted curve; without it
    the neighbouring points serve, and for a single speed the rated curve.

    Raises:
        BadPoint: A figure is no number, or an uncertainty, speed or voltage is below 0.
        NoLimit: The acceptance rule states no limit.
    """
    rows = steady_points(points)
    refuse_bad_points(rows)
    slopes = _slopes(points, rated, slope)
    weighed = [
        _weighed(row, point, known) for row, point, known in zip(rows, points, slopes, strict=True)
    ]
    circumstances = Circumstances(
        state=state, test_volts=test_volts, volts_within=volts_within, from_elsewhere=True
    )
    return judge(weighed, rated=rated, accept=accept, circumstances=circumstances)


def steady_points(points: Iterable[MeasuredPoint]) -> list[SteadyPoint]:
    """The points as steps of a sweep, numbered from 1; the speed read is the speed set."""
    return [_row(number, point) for number, point in enumerate(points, 1)]


def _row(number: int, point: MeasuredPoint) -> SteadyPoint:
    return SteadyPoint(
        step=number,
        set_rpm=point.shaft_rpm,
        shaft_rpm=point.shaft_rpm,
        u_shaft_rpm=point.u_shaft_rpm,
        amps=point.amps,
        u_amps=point.u_amps,
        volts=point.volts,
        u_volts=point.u_volts,
    )


def _slopes(
    points: Sequence[MeasuredPoint], rated: RatedCurve, slope: Callable[[float], float] | None
) -> list[Slope | None]:
    """Exact by convention: no uncertainty of the slope is added to what was given."""
    if slope is not None:
        return [Slope(slope(point.shaft_rpm)) for point in points]
    found = neighbour_slopes([(point.shaft_rpm, point.amps) for point in points])
    along = (slope_along(rated.points, point.shaft_rpm) for point in points)
    either = (own or line for own, line in zip(found, along, strict=True))
    return [None if known is None else Slope(known.value) for known in either]


def _weighed(row: SteadyPoint, point: MeasuredPoint, slope: Slope | None) -> SteadyPoint:
    budget = None if point.u_amps is None else _budget(point, point.u_amps, slope)
    u_without_speed = None if budget is None else budget.without("speed scatter").u
    return replace(
        row,
        u_amps=u_without_speed,
        amps_at_set_rpm=row.amps,
        u_amps_at_set_rpm=None if budget is None else budget.u,
        dof=math.inf,
        budget=budget,
        slope=slope,
    )


def _budget(point: MeasuredPoint, u_amps: float, slope: Slope | None) -> Budget:
    parts = [Part("stated", "the uncertainty given with the reading", u_amps)]
    if point.u_volts and point.volts:
        volts = typical_volts_slope(shaft_rpm=point.shaft_rpm, amps=point.amps, volts=point.volts)
        name = "the voltage as given"
        parts.append(Part("voltage", name, point.u_volts, volts.value, unit_of_measure="V"))
    if point.u_shaft_rpm and slope is not None:
        name = "the speed as given"
        rpm = point.u_shaft_rpm
        parts.append(Part("speed scatter", name, rpm, slope.value, unit_of_measure="rpm"))
    return Budget(()).plus(*parts)
