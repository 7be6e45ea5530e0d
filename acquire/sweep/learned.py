"""What the steps before have taught: how far the set speed must lead, how steep the curve is."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from acquire.judge.slopes import Slope, neighbour_slopes, slope_along
from acquire.settle.looks import HoldLook
from acquire.settle.lore import Lore

LEAD_AT_MOST = 1.08
"""As much as a trim may correct (`ramp.LARGEST_CORRECTION`): what is learned leads no farther."""
NO_OUTPUT_AMPS = 1.0
"""Below this a unit gives nothing [A]: a sound one gives many amperes at its second speed."""


@dataclass(slots=True)
class Learned:
    """Grows from step to step; the same readings teach the same."""

    lead: float = 1.0
    """Set speed / speed reached: slip and droop of the step before, used for the next."""
    load_off_s: float = -math.inf
    """When a load set by hand was opened last [s]."""
    battery_amps: float | None = None
    """What the battery took beside a switched bank at the step before [A]."""
    lore: Lore = field(default_factory=Lore)
    """What settling taught: one lag or two, and how long."""
    points: list[tuple[float, float]] = field(default_factory=list)
    """(shaft_rpm, amps) of the steps taken."""

    def see_point(self, *, set_rpm: float, look: HoldLook) -> None:
        """Learn from a step taken at drive setting `set_rpm` [rpm without slip]."""
        shaft = look.channels["shaft_rpm"].mean
        self.points.append((shaft, look.channels["amps"].mean))
        if set_rpm > 0 and shaft > 0:
            self.lead = min(max(set_rpm / shaft, 1 / LEAD_AT_MOST), LEAD_AT_MOST)

    def amps_towards(self, shaft_rpm: float) -> float | None:
        """What may come at this speed [A] by the points before: of two, along a - b / n, which is
        how output curves rise; of one, the same again. A guess to begin a search with."""
        if len(self.points) < 2 or self.points[-1][0] == self.points[-2][0]:
            return self.points[-1][1] if self.points else None
        (n1, amps1), (n2, amps2) = self.points[-2:]
        fall = (amps2 - amps1) / (1 / n1 - 1 / n2)
        return max(amps2 + fall * (1 / n2 - 1 / shaft_rpm), 0.0)

    def gives_nothing(self) -> bool:
        """True exactly once: when the second point has been taken and both show no output."""
        return len(self.points) == 2 and all(amps < NO_OUTPUT_AMPS for _rpm, amps in self.points)

    def slope_near(self, shaft_rpm: float, rated: tuple[tuple[float, float], ...]) -> Slope | None:
        """Amps per rpm expected near `shaft_rpm`: of the rated curve if known, else of the last
        two points (too steep for the next speed, the curve being concave), else None."""
        if len(rated) >= 2:
            speeds = [rpm for rpm, _amps in rated]
            if shaft_rpm in speeds:
                return neighbour_slopes(rated)[speeds.index(shaft_rpm)]
            return slope_along(rated, shaft_rpm)
        return slope_along(self.points[-2:], shaft_rpm)
