"""The belt: a speed ratio, and slip that grows with torque and runs away past the grip."""

from __future__ import annotations

_CREEP = 0.012
"""Slip at full grip: a sound V-belt creeps about a per cent (common practice, no source)."""
_RUNAWAY = 0.8
_MOST = 0.5
_LAG_S = 0.08
LOOSE_GRIP = 0.35
"""What is left of the grip of a slipping belt."""


class Belt:
    """From pulley to pulley."""

    def __init__(self, *, ratio: float, grip_nm: float) -> None:
        self.ratio = ratio
        self.grip_nm = grip_nm
        self.slip = 0.0

    def step(self, dt_s: float, pulley_rpm: float, shaft_torque_nm: float) -> float:
        """Alternator shaft speed after `dt_s` [rpm]."""
        use = shaft_torque_nm / self.grip_nm
        slip = _CREEP * use
        if use > 1.0:
            slip += _RUNAWAY * (use - 1.0)
        if slip > _MOST:
            slip = _MOST
        self.slip += (slip - self.slip) * (dt_s / _LAG_S)
        return pulley_rpm * self.ratio * (1.0 - self.slip)
