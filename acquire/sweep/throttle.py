"""Without a drive: the program says the next speed, and notices when it is reached and held."""

from __future__ import annotations

import math

from acquire.sweep.commands import Act, Command, HandsOn, SkipStep
from acquire.sweep.intake import SHAFT, Value
from acquire.sweep.phases import PlainPhase
from acquire.sweep.plan import Step, SweepPlan

HELD_S = 1.5
"""Inside the band for so long [s] the speed counts as held, and not only passed through."""
SILENT_S = 5.0
"""After so long without a reading of the speed nobody can find it: that is said."""
NO_SPEED = "NO SPEED READING"
WHAT_TO_DO = "Look at the tachometer, its cable and its plug; or stop."


class Throttle(PlainPhase):
    """Wait until a hand has brought the shaft within a band of the wanted speed, and keeps it."""

    name = "throttle"

    def __init__(self, step: Step, plan: SweepPlan) -> None:
        super().__init__()
        self._step = step
        self._plan = plan
        self._inside_since_s: float | None = None
        self.skipped = False
        """True once the operator would rather leave this speed than turn to it."""
        self._silent = False

    def begin(self, now_s: float) -> list[Command]:
        self.due_s = now_s + SILENT_S
        return [self._wanted()]

    def _wanted(self) -> HandsOn:
        return HandsOn(throttle_words(self._plan, self._step.set_rpm))

    def pass_time(self, now_s: float) -> list[Command]:
        self._silent, self.due_s = True, math.inf
        self._inside_since_s = None
        return [HandsOn(NO_SPEED, f"No reading of the speed for {SILENT_S:.0f} s. {WHAT_TO_DO}")]

    def take(self, value: Value) -> list[Command]:
        if value.channel != SHAFT:
            return []
        again: list[Command] = [self._wanted()] if self._silent else []
        self._silent, self.due_s = False, value.t_s + SILENT_S
        self._look(value)
        return again

    def _look(self, value: Value) -> None:
        if not within(value.value, self._step.set_rpm, self._plan.speed_within_percent):
            self._inside_since_s = None
        elif self._inside_since_s is None:
            self._inside_since_s = value.t_s
        elif value.t_s - self._inside_since_s >= HELD_S:
            self.over, self.due_s = True, math.inf

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
