"""Currents that a unit of this rating hardly gives: another shunt, or milliamps for amps."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from acquire.judge.rated_line import rated_at
from acquire.judge.speed_result import SpeedResult
from acquire.judge.steady_point import SteadyPoint
from profiles.alternator import RatedCurve

# Our choices, no published source.
FAR_ABOVE = 5.0
"""No unit gives so many times its highest rated current: the figure or the rating is wrong."""
ABOUT_A_THOUSAND = (100.0, 2000.0)
"""So many times the highest rated current is what milliamps look like."""
LIKE_RATED = (0.5, 1.5)
"""A thousand times the figure, over the rated current there: what kiloamps look like."""
HIGH_ABOVE = 1.35
"""So many times the rated current at the end of the rated curve is no healthy unit's any more: cold
ones give up to a quarter more there than their warm rating (common practice, no source)."""
NEAR_THE_END = 0.98
"""From this share of the last rated speed on a reading is one at the end of the curve."""


@dataclass(frozen=True, slots=True)
class FarAbove:
    """The highest current read, where it is far above the rating."""

    amps: float
    shaft_rpm: float
    rated_amps: float
    """The highest rated one."""

    @property
    def words(self) -> str:
        """As in `44100 A at 1500 rpm is 464 times the highest rated current (95 A)`."""
        return (
            f"{self.amps:.0f} A at {self.shaft_rpm:.0f} rpm is {self.amps / self.rated_amps:.0f}"
            f" times the highest rated current ({self.rated_amps:.0f} A)"
        )

    @property
    def like_milliamps(self) -> bool:
        """True where a thousandth of it would be a current of this rating."""
        least, most = ABOUT_A_THOUSAND
        return least <= self.amps / self.rated_amps <= most


def far_above(points: Iterable[SteadyPoint], rated: RatedCurve) -> FarAbove | None:
    """The highest current, where it is more than five times the highest rated one."""
    top = max((amps for _, amps in rated.points), default=0.0)
    read = [(p.amps, p.shaft_rpm or p.set_rpm) for p in points if p.amps is not None]
    highest, rpm = max(read, default=(0.0, 0.0))
    return FarAbove(highest, rpm, top) if top > 0.0 and highest > FAR_ABOVE * top else None


def like_kiloamps(points: Sequence[SteadyPoint], rated: RatedCurve) -> bool:
    """True where every current, at two rated speeds or more, is a thousandth of one as rated."""
    shares = []
    for point in points:
        there = rated_at(rated.points, point.shaft_rpm or point.set_rpm) if rated.points else None
        if there and point.amps is not None:
            shares.append(1000.0 * point.amps / there)
    least, most = LIKE_RATED
    return len(shares) > 1 and all(least <= share <= most for share in shares)


def high_above(results: Iterable[SpeedResult], rated: RatedCurve) -> str:
    """What is far more than rated, in words; empty where nothing is.

    Decided at the last rated speed, where a unit has least to spare. Where that was not measured
    every judged speed must be as high, after what heat takes.
    """
    judged = [
        r for r in results if r.amps is not None and r.rated_amps and r.limit_amps is not None
    ]
    if not judged or not rated.points:
        return ""
    top = max(judged, key=lambda result: result.shaft_rpm)
    if top.shaft_rpm >= NEAR_THE_END * rated.points[-1][0]:
        high = _share(top.amps, top) > HIGH_ABOVE
    else:
        high = all(
            _share(r.amps if r.hot_amps is None else r.hot_amps, r) > HIGH_ABOVE for r in judged
        )
    if not high:
        return ""
    return (
        f"It gives {_share(top.amps, top):.1f} times its rated current at {top.shaft_rpm:.0f} rpm:"
        " check the shunt and `scale` of the ammeter, or whether this is its rated curve."
    )


def _share(amps: float | None, result: SpeedResult) -> float:
    return (amps or 0.0) / (result.rated_amps or math.inf)
