"""What the steps before have taught: how far the set speed must lead, how steep the curve is."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from acquire.judge.slopes import Slope, neighbour_slopes, slope_along
from acquire.settle.looks import HoldLook
from acquire.settle.lore import Lore

LEAD_AT_MOST = 1.08
NO_OUTPUT_AMPS = 1.0


@dataclass(slots=True)
class Learned:
    """Grows from step to step; the same readings teach the same."""

    lead: float = 1.0
    """Set speed / speed reached: slip and droop of the step before, used for the next."""
    load_off_s: float = -math.inf
    """When a load set by hand was opened last [s]."""
    lore: Lore = field(default_factory=Lore)
    """What settling taught: the thermal slope of this unit."""
    points: list[tuple[float, float]] = field(default_factory=list)
    """(shaft_rpm, amps) of the steps taken."""

    def see_point(self, *, set_rpm: float, look: HoldLook) -> None:
        """Learn from a step taken at drive setting `set_rpm` [rpm without slip]."""
        shaft = look.channels["shaft_rpm"].mean
        self.points.append((shaft, look.channels["amps"].mean))
        if set_rpm > 0 and shaft > 0:
            self.lead = min(max(set_rpm / shaft, 1 / LEAD_AT_MOST), LEAD_AT_MOST)

    def gives_nothing(self) -> bool:
        """True exactly once: when the second point has been taken and both show no output."""
        return len(self.points) == 2 and all(amps < NO_OUTPUT_AMPS for _rpm, amps in self.points)

    def slope_at(self, shaft_rpm: float, rated: tuple[tuple[float, float], ...]) -> Slope | None:
        """Amps per rpm expected near `shaft_rpm`: of the rated curve if known, else of the last
        two points (too steep for the next speed, the curve being concave), else None."""
        if len(rated) >= 2:
            speeds = [rpm for rpm, _amps in rated]
            if shaft_rpm in speeds:
                return neighbour_slopes(rated)[speeds.index(shaft_rpm)]
            return slope_along(rated, shaft_rpm)
        return slope_along(self.points[-2:], shaft_rpm)
