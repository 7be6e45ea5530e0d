"""How the current answers to speed and to voltage: what moves a reading to the speed it is for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from acquire.plain_sum import plain_sum

U_SLOPE_SHARE = 0.3
"""Standard uncertainty of a slope taken from neighbouring steps, as a share of it. On bridge-map
curves with 2 to 8 steps from 1500 to 6000 rpm the slope comes out within a quarter of the true one
(computed, no published source); just above cut-in it is poorer."""

ONE_SPEED = 1.02
"""Rows no farther apart than this factor are of one speed: their difference is noise, no slope."""

_VOLT_EXPONENTS = ((1500.0, -1.2), (2000.0, -0.3), (3000.0, 0.0), (6000.0, 0.15))
"""(shaft rpm, percent of current for one percent of voltage). Computed with a rectifier-bridge
model of a 14 V 90 A machine held between 13.0 and 14.5 V; no published source."""


@dataclass(frozen=True, slots=True)
class Slope:
    """Amperes for one unit of measure, with its standard uncertainty."""

    value: float
    u: float = 0.0


def neighbour_slopes(points: Sequence[tuple[float, float]]) -> list[Slope | None]:
    """Slope of amps over speed at each (shaft rpm, amps) point [A per rpm], in any order.

    Taken over 1/n², in which an output curve is nearly straight (constant voltage behind a
    reactance: I = I_max·√(1 - (n₀/n)²)): the parabola through a point and its neighbours, at the
    ends through the last three, with two speeds the straight line. None where there is one speed
    only, and for a shaft at rest. Rows within 2 % of each other share a slope.
    """
    groups = _one_speed_each([point for point in points if point[0] > 0.0])
    speeds = [_mean([rpm for rpm, _ in group]) for group in groups]
    amps = [_mean([amps for _, amps in group]) for group in groups]
    found = zip(groups, _slopes(speeds, amps), strict=True)
    by_speed = {rpm: slope for group, slope in found for rpm, _ in group}
    return [_with_u(by_speed.get(rpm)) for rpm, _ in points]


def slope_along(points: Sequence[tuple[float, float]], shaft_rpm: float) -> Slope | None:
    """Slope of a rated curve at this speed [A per rpm], straight over 1/n² between its points."""
    ordered = sorted(points)
    if len(ordered) < 2 or shaft_rpm <= 0.0:
        return None
    pairs = list(pairwise(ordered))
    low, high = next((pair for pair in pairs if shaft_rpm <= pair[1][0]), pairs[-1])
    rise = (high[1] - low[1]) / (_place(high[0]) - _place(low[0]))
    return _with_u(rise * _place_slope(shaft_rpm))


def typical_volts_slope(*, shaft_rpm: float, amps: float, volts: float) -> Slope:
    """Amperes for one volt of test voltage, for a machine of ordinary make [A per V].

    Below 1500 rpm the figure of 1500 rpm, above 6000 rpm that of 6000 rpm. The uncertainty is
    half of the figure, and never under 0.2 % of the current for 1 % of voltage.
    """
    exponent = _between(_VOLT_EXPONENTS, shaft_rpm)
    per_volt = amps / volts
    return Slope(exponent * per_volt, max(0.5 * abs(exponent), 0.2) * abs(per_volt))


def _between(table: Sequence[tuple[float, float]], at: float) -> float:
    if at <= table[0][0]:
        return table[0][1]
    for (low, first), (high, second) in pairwise(table):
        if at <= high:
            return first + (second - first) * (at - low) / (high - low)
    return table[-1][1]


def _mean(values: Sequence[float]) -> float:
    return plain_sum(values) / len(values)


def _with_u(slope: float | None) -> Slope | None:
    return None if slope is None else Slope(slope, U_SLOPE_SHARE * abs(slope))


def _one_speed_each(points: Sequence[tuple[float, float]]) -> list[list[tuple[float, float]]]:
    groups: list[list[tuple[float, float]]] = []
    for point in sorted(points):
        if groups and point[0] <= groups[-1][0][0] * ONE_SPEED:
            groups[-1].append(point)
        else:
            groups.append([point])
    return groups


def _place(shaft_rpm: float) -> float:
    """Where a speed lies on the axis that straightens the curve (rises with speed)."""
    return -1.0 / (shaft_rpm * shaft_rpm)


def _place_slope(shaft_rpm: float) -> float:
    """How that place changes with speed."""
    return 2.0 / shaft_rpm**3


def _slopes(speeds: Sequence[float], amps: Sequence[float]) -> list[float | None]:
    if len(speeds) < 2:
        return [None for _ in speeds]
    places = [_place(rpm) for rpm in speeds]
    rises = _parabola_slopes(places, amps)
    return [rise * _place_slope(rpm) for rise, rpm in zip(rises, speeds, strict=True)]


def _parabola_slopes(places: Sequence[float], amps: Sequence[float]) -> list[float]:
    widths = [high - low for low, high in pairwise(places)]
    secants = [(b - a) / width for (a, b), width in zip(pairwise(amps), widths, strict=True)]
    if len(secants) == 1:
        return [secants[0], secants[0]]
    inner = [_weighted(widths, secants, k) for k in range(len(secants) - 1)]
    first = 2.0 * secants[0] - inner[0]
    last = 2.0 * secants[-1] - inner[-1]
    return [first, *inner, last]


def _weighted(widths: Sequence[float], secants: Sequence[float], k: int) -> float:
    """Slope of the parabola at the point between intervals k and k + 1."""
    before, after = widths[k], widths[k + 1]
    return (after * secants[k] + before * secants[k + 1]) / (before + after)
