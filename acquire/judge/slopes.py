"""How the current answers to speed and to voltage: what moves a reading to the speed it is for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

U_SLOPE_SHARE = 0.3
"""Standard uncertainty of a slope taken from neighbouring steps, as a share of it (our choice: on
a bridge-map curve the secant of steps 300 to 500 rpm apart is off by up to about this much)."""

_VOLT_EXPONENTS = ((1500.0, -1.2), (2000.0, -0.3), (3000.0, 0.0), (6000.0, 0.15))
"""(shaft rpm, percent of current for one percent of voltage). Computed with a rectifier-bridge
model of a 14 V 90 A machine held between 13.0 and 14.5 V; no published source."""


@dataclass(frozen=True, slots=True)
class Slope:
    """Amperes for one unit of measure, with its standard uncertainty."""

    value: float
    u: float = 0.0


def neighbour_slopes(points: Sequence[tuple[float, float]]) -> list[Slope | None]:
    """Slope of amps over speed at each (shaft rpm, amps) point [A per rpm].

    Inside: the parabola through a point and its two neighbours; at the ends: the parabola through
    the last three; with two speeds the straight line. None where there is one speed only. Rows at
    one speed are averaged first, and share a slope. Any order is taken.
    """
    speeds = sorted({rpm for rpm, _ in points})
    means = [_mean([amps for rpm, amps in points if rpm == speed]) for speed in speeds]
    by_speed = dict(zip(speeds, _slopes(speeds, means), strict=True))
    return [_with_u(by_speed[rpm]) for rpm, _ in points]


def slope_along(points: Sequence[tuple[float, float]], shaft_rpm: float) -> Slope | None:
    """Slope of the straight line between the neighbouring points at this speed [A per rpm]."""
    ordered = sorted(points)
    if len(ordered) < 2:
        return None
    pairs = list(pairwise(ordered))
    low, high = next((pair for pair in pairs if shaft_rpm <= pair[1][0]), pairs[-1])
    return _with_u((high[1] - low[1]) / (high[0] - low[0]))


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
    return sum(values) / len(values)


def _with_u(slope: float | None) -> Slope | None:
    return None if slope is None else Slope(slope, U_SLOPE_SHARE * abs(slope))


def _slopes(speeds: Sequence[float], amps: Sequence[float]) -> list[float | None]:
    if len(speeds) < 2:
        return [None for _ in speeds]
    steps = list(pairwise(speeds))
    rises = pairwise(amps)
    secants = [(b - a) / (high - low) for (low, high), (a, b) in zip(steps, rises, strict=True)]
    widths = [high - low for low, high in steps]
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
