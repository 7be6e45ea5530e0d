"""Currents that no unit of this rating gives: milliamps or kiloamps taken for amps."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from acquire.judge.rated_line import rated_at
from acquire.judge.steady_point import SteadyPoint
from profiles.alternator import RatedCurve

# Our choices, no published source.
FAR_ABOVE = 5.0
"""No unit gives so many times its highest rated current: the figure or the rating is wrong."""
ABOUT_A_THOUSAND = (100.0, 2000.0)
"""So many times the highest rated current is what milliamps look like."""
LIKE_RATED = (0.5, 1.5)
"""A thousand times the figure, over the rated current there: what kiloamps look like."""


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
