"""The time on the simulated rig."""

from __future__ import annotations

import time

from drivers.clock import SpedUpClock
from drivers.simulated.rig_model import RigModel

_LOOK_AGAIN_S = 0.05


class RigClock(SpedUpClock):
    """Moves as the physics moves; while no physics runs, as the wall clock does, times `pace`.

    So an overloaded computer slows the time on the rig instead of breaking what waits on it, and
    nothing that still waits after the rig was closed waits for ever. It never goes back.
    """

    def __init__(self, model: RigModel, pace: float) -> None:
        self.pace = pace
        self._model = model
        self._ahead_s = 0.0
        self._adrift: tuple[float, float] | None = (time.monotonic(), 0.0)
        super().__init__()

    def follow_rig(self) -> None:
        """From now on time is the rig's; called as the physics begins."""
        self._ahead_s = self.monotonic_s() - self._model.now_s
        self._adrift = None

    def drift(self) -> None:
        """From now on time is the wall's; called as the physics ends."""
        self._adrift = (time.monotonic(), self.monotonic_s())

    def monotonic_s(self) -> float:
        adrift = self._adrift
        if adrift is None:
            return self._ahead_s + self._model.now_s
        wall_s, rig_s = adrift
        return rig_s + (time.monotonic() - wall_s) * self.pace

    def sleep_s(self, seconds: float) -> None:
        until_s = self.monotonic_s() + seconds
        while (left_s := until_s - self.monotonic_s()) > 0.0:
            time.sleep(min(left_s / self.pace, _LOOK_AGAIN_S) + 1e-4)
