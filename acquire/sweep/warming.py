"""Running warm before the first step, for a time or until nothing drifts any more."""

from __future__ import annotations

import math
from dataclasses import replace

from acquire.settle.hold import Hold
from acquire.settle.looks import HoldLook
from acquire.settle.tolerance import ChannelPlan
from acquire.sweep.commands import Act, Command, Remark, SkipStep
from acquire.sweep.intake import AMPS, Value
from acquire.sweep.learned import Learned
from acquire.sweep.phases import PlainPhase
from acquire.sweep.plan import SweepPlan, WarmUp
from acquire.sweep.step_phase import hold_plan

WARM_HORIZON_S = 60.0
"""Warm means: hardly any drift over a whole minute, not over the next seconds."""
CASE_DRIFT_C = 1.0
"""The case may still change by so much over the horizon [°C]."""

COME_UP_S, FIRST_FOR_S = 5.0, 3.0
"""The first current is read so long after the speed was reached, over so long [s]."""
SMOOTH = 0.1
"""Weight of each new reading in the smoothed current: about the last ten readings count."""


def _warm_channels(plan: SweepPlan) -> dict[str, ChannelPlan]:
    """As for a step, but where the case temperature is read it must hold still too."""
    channels = dict(plan.channels)
    if "case_c" in channels:
        channels["case_c"] = replace(channels["case_c"], absolute=CASE_DRIFT_C, must_hold=True)
    return channels


class Warming(PlainPhase):
    """Hold the warm-up speed; says afterwards whether the unit counts as warm."""

    name = "warming"

    def __init__(self, warm_up: WarmUp, *, plan: SweepPlan, learned: Learned) -> None:
        super().__init__()
        self.warm_up = warm_up
        self._plan = replace(
            plan,
            thermal=True,
            predict=False,
            horizon_s=WARM_HORIZON_S,
            channels=_warm_channels(plan),
        )
        self._learned = learned
        self._hold: Hold | None = None
        self._began_s = 0.0
        self.look: HoldLook | None = None
        self._amps_first: float | None = None
        """Current once it had come up [A]."""
        self._amps_last: float | None = None

    def begin(self, now_s: float) -> list[Command]:
        self._began_s = now_s
        self.due_s = now_s + self.warm_up.for_s
        if self.warm_up.until_steady:
            self._hold = Hold(
                hold_plan(
                    self._plan,
                    shaft_rpm=self.warm_up.shaft_rpm,
                    began_s=now_s,
                    learned=self._learned,
                )
            )
        return [Remark("warm-up began", {"shaft_rpm": self.warm_up.shaft_rpm})]

    def pass_time(self, now_s: float) -> list[Command]:
        return self._end(now_s, "its time")

    def take(self, value: Value) -> list[Command]:
        if value.channel == AMPS:
            self._follow(value)
        if self._hold is None or value.channel not in self._plan.channels:
            return []
        look = self._hold.push(value.channel, value.t_s, value.value)
        self.look = look or self.look
        steady = look is not None and look.taken == "yes"
        return self._end(value.t_s, "steady") if steady else []

    def _follow(self, value: Value) -> None:
        """The current at both ends of the warm-up, smoothed over some readings."""
        if value.t_s - self._began_s < COME_UP_S:
            return
        last = value.value if self._amps_last is None else self._amps_last
        self._amps_last = last + SMOOTH * (value.value - last)
        if value.t_s - self._began_s < COME_UP_S + FIRST_FOR_S or self._amps_first is None:
            self._amps_first = self._amps_last

    def act(self, now_s: float, act: Act) -> list[Command]:
        return self._end(now_s, "cut short") if isinstance(act, SkipStep) else []

    def _end(self, now_s: float, how: str) -> list[Command]:
        self.over, self.due_s = True, math.inf
        data = {"how": how, "lasted_s": now_s - self._began_s}
        amps = {"amps_first": self._amps_first, "amps_last": self._amps_last}
        return [Remark("warm-up over", {**data, **amps})]
