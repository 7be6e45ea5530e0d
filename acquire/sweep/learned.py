"""What the steps before have taught: how far the set speed must lead, how steep the curve is."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

from acquire.settle.hold import HoldLook

LEAD_AT_MOST = 1.08


@dataclass(slots=True)
class Learned:
    """Grows from step to step; the same readings teach the same."""

    lead: float = 1.0
    """Set speed / speed reached: slip and droop of the step before, used for the next."""
    points: list[tuple[float, float]] = field(default_factory=list)
    """(shaft_rpm, amps) of the steps taken."""

    def see_point(self, *, set_rpm: float, look: HoldLook) -> None:
        """Learn from a step taken at drive setting `set_rpm` [rpm without slip]."""
        shaft = look.channels["shaft_rpm"].mean
        self.points.append((shaft, look.channels["amps"].mean))
        if set_rpm > 0 and shaft > 0:
            self.lead = min(max(set_rpm / shaft, 1 / LEAD_AT_MOST), LEAD_AT_MOST)

    def slope_at(self, shaft_rpm: float, rated: tuple[tuple[float, float], ...]) -> float | None:
        """Amps per rpm expected near `shaft_rpm`: of the rated curve if known, else of the last
        two points (too steep for the next speed, the curve being concave), else None."""
        if len(rated) >= 2:
            return _chord_slope(rated, shaft_rpm)
        if len(self.points) >= 2:
            (n1, a1), (n2, a2) = self.points[-2:]
            return (a2 - a1) / (n2 - n1) if abs(n2 - n1) > 1 else None
        return None


def _chord_slope(points: tuple[tuple[float, float], ...], shaft_rpm: float) -> float:
    """Slope of the straight line through the two points around `shaft_rpm` [A/rpm].

    At a point itself the mean of the slopes on both sides.
    """
    slopes = [(n1, n2, (a2 - a1) / (n2 - n1)) for (n1, a1), (n2, a2) in itertools.pairwise(points)]
    touching = [slope for n1, n2, slope in slopes if n1 <= shaft_rpm <= n2]
    if touching:
        return sum(touching) / len(touching)
    return slopes[0][2] if shaft_rpm < points[0][0] else slopes[-1][2]
