"""The drive takes the shaft to a speed, along the ramp."""

from __future__ import annotations

import math

from acquire.sweep.commands import Command, Remark, SetShaftRpm
from acquire.sweep.intake import SHAFT, Value
from acquire.sweep.phases import PlainPhase
from acquire.sweep.ramp import Ramp

ARRIVED_WITHIN = 0.02
"""Share of the speed within which it counts as reached; what is left the hold trims away."""
ARRIVE_GIVE_UP_S = 6.0
"""After the ramp's end [s]: a drive that is not there by then (belt slipping, current limit) will
hardly come; the step is held at the speed there is, and the journal says so."""


class Turning(PlainPhase):
    """Ramp to `shaft_rpm`; over when the tachometer says it is there, or had time to be."""

    name = "turning"

    def __init__(self, shaft_rpm: float, *, ramp: Ramp, lead: float) -> None:
        super().__init__()
        self.shaft_rpm = shaft_rpm
        self._ramp = ramp
        self._lead = lead

    @property
    def ramp_left_s(self) -> float:
        """So much longer the set speed is on its way [s]."""
        return self._ramp.left_s

    def begin(self, now_s: float) -> list[Command]:
        self._ramp.go_to(self.shaft_rpm * self._lead)
        return self._move(now_s)

    def pass_time(self, now_s: float) -> list[Command]:
        if self._ramp.there:
            self._arrive()
            return [Remark("speed not reached", {"wanted_rpm": self.shaft_rpm})]
        return self._move(now_s)

    def take(self, value: Value) -> list[Command]:
        close = abs(value.value - self.shaft_rpm) <= ARRIVED_WITHIN * self.shaft_rpm
        if value.channel == SHAFT and self._ramp.there and close:
            self._arrive()
        return []

    def _move(self, now_s: float) -> list[Command]:
        moved = self._ramp.move(now_s)
        self.due_s = now_s + ARRIVE_GIVE_UP_S if self._ramp.there else self._ramp.due_s
        return [] if moved is None else [SetShaftRpm(moved)]

    def _arrive(self) -> None:
        self.over, self.due_s = True, math.inf
