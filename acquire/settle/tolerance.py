"""How much a channel may still drift over the look-ahead and count as settled."""

from __future__ import annotations

from dataclasses import dataclass

HORIZON_S = 10.0
"""Default look-ahead [s]: the drift is judged over the next ten seconds."""

STEP_SHARE = 0.25
"""No tolerance below this share of the display step: below it the test could never be met."""

THERMAL_PERCENT = 0.2
"""Amps tolerance where the warming itself must have died out (thermal mode)."""


@dataclass(frozen=True, slots=True)
class Tolerance:
    """The drift allowed over the look-ahead, in the channel's own unit of measure."""

    drift: float
    resolution: float = 0.0
    """Display step of the instrument (0 = fine enough not to matter)."""
    horizon_s: float = HORIZON_S


@dataclass(frozen=True, slots=True)
class ChannelPlan:
    """What one channel must do before a step is taken.

    The drift allowed is the largest of `relative` x reading, `absolute`, and a quarter of the
    display step. A channel that need not hold still is only averaged.
    """

    relative: float = 0.0
    """Share of the reading (0.005 = half a percent)."""
    absolute: float = 0.0
    """In the channel's own unit of measure."""
    resolution: float = 0.0
    """Display step, in the channel's own unit of measure."""
    must_hold: bool = True

    def tolerance(self, reading: float) -> float:
        """Drift allowed over the look-ahead at `reading`, in the channel's unit of measure."""
        return max(self.relative * abs(reading), self.absolute, STEP_SHARE * self.resolution)
