"""What the steps of a sweep teach the next one: how fast the unit is warming.

The thermal drift is what a few seconds of readings can least tell; but from step to step it
changes slowly. Copper losses go with the square of the current (so does the warmth a winding is
heading for), so the drift found at one step, with its doubt, is the starting belief for the next,
shifted and widened by how much the losses change.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

MEAN_SHARE = -0.001
"""A unit under load warms and loses current: drift over 10 s as a share of the reading."""
CHANGE_SHARE = 0.0012
"""Drift that a change from no losses to those of this step brings, and as much doubt of it."""
WANDER_SHARE = 0.0004
"""Doubt added from one step to the next even at equal losses."""


@dataclass(slots=True)
class Lore:
    """Grows from step to step of one sweep; the same readings teach the same."""

    amps: float = 0.0
    """Current of the step learned from [A]; 0 when nothing is known yet."""
    mean_share: float = MEAN_SHARE
    """Thermal drift over 10 s at the end of that step, as a share of the reading."""
    sd_share: float = math.inf

    def belief(self, amps: float, unknown_sd_share: float) -> tuple[float, float]:
        """Mean and standard deviation of the thermal drift over 10 s, as shares of `amps`.

        `unknown_sd_share` stands while nothing is known, and is never exceeded.
        """
        if self.amps <= 0.0 or amps <= 0.0:
            return MEAN_SHARE, unknown_sd_share
        change = 1.0 - min((self.amps / amps) ** 2, 2.0)
        sd = math.hypot(self.sd_share, CHANGE_SHARE * change, WANDER_SHARE)
        return self.mean_share - CHANGE_SHARE * change, min(sd, unknown_sd_share)

    def learn(self, *, amps: float, drift: float, u_drift: float) -> None:
        """Take over what a step ended with: its drift over 10 s and that drift's doubt [A]."""
        if amps > 0.0:
            self.amps = amps
            self.mean_share, self.sd_share = drift / amps, u_drift / amps
