"""Without a drive: the program says the next speed, and notices when it is reached and held."""

from __future__ import annotations

import math

from acquire.sweep.commands import Act, Command, HandsOn, SkipStep
from acquire.sweep.intake import SHAFT, Value
from acquire.sweep.phases import PlainPhase
from acquire.sweep.plan import Step, SweepPlan

HELD_S = 1.5


class Throttle(PlainPhase):
    """Wait until a hand has brought the shaft within a band of the wanted speed, and keeps it."""

    name = "throttle"

    def __init__(self, step: Step, plan: SweepPlan) -> None:
        super().__init__()
        self._step = step
        self._plan = plan
        self._inside_since_s: float | None = None
        self.skipped = False

    def begin(self, now_s: float) -> list[Command]:
        return [HandsOn(throttle_words(self._plan, self._step.set_rpm))]

    def take(self, value: Value) -> list[Command]:
        if value.channel != SHAFT:
            return []
        if not within(value.value, self._step.set_rpm, self._plan.speed_within_percent):
            self._inside_since_s = None
        elif self._inside_since_s is None:
            self._inside_since_s = value.t_s
        elif value.t_s - self._inside_since_s >= HELD_S:
            self.over, self.due_s = True, math.inf
        return []

    def act(self, now_s: float, act: Act) -> list[Command]:
        if isinstance(act, SkipStep):
            self.over = self.skipped = True
        return []


def within(shaft_rpm: float, wanted_rpm: float, percent: float) -> bool:
    """True inside the band around the wanted speed."""
    return abs(shaft_rpm - wanted_rpm) <= wanted_rpm * percent / 100


def throttle_words(plan: SweepPlan, shaft_rpm: float) -> str:
    """What the hand must set: engine speed where that is what the operator sees."""
    if plan.speed_source == "engine_rpm":
        return f"THROTTLE TO {shaft_rpm / plan.speed_ratio:.0f} (engine rpm)"
    return f"TURN TO {shaft_rpm:.0f} RPM"
