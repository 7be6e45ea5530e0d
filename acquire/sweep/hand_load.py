"""A load set by hand, good for some seconds: more load, less load, and OPEN THE PILE in time."""

from __future__ import annotations

import math
from typing import Literal

from acquire.settle.hold import Hold
from acquire.settle.looks import HoldLook
from acquire.sweep.commands import (
    Act,
    Command,
    HandsOn,
    LoadNoticed,
    Remark,
    SetShaftRpm,
    SkipStep,
    TakeNow,
)
from acquire.sweep.holding import hold_plan, step_taken
from acquire.sweep.intake import AMPS, SHAFT, VOLTS, Value
from acquire.sweep.learned import Learned
from acquire.sweep.phases import PlainPhase
from acquire.sweep.plan import HandLoad, Step, SweepPlan
from acquire.sweep.ramp import Ramp, Trim

LIGHT_S = 2.0
"""Light running before the load is asked for: the speed has come to rest by then."""
SAY_EVERY_S = 1.0
LEAST_LOAD_AMPS = 3.0
OPEN_BEFORE_S = 2.0
"""The point is taken so long before the pile must be open: hands need a moment."""

Stage = Literal["light", "loading", "holding", "opening"]


class HandLoaded(PlainPhase):
    """One step with a load the operator closes, sets to the test voltage, and opens."""

    name = "hand load"

    def __init__(
        self,
        step: Step,
        *,
        plan: SweepPlan,
        hand: HandLoad,
        ramp: Ramp,
        learned: Learned,
    ) -> None:
        super().__init__()
        self.step = step
        self.stage: Stage = "light"
        self.look: HoldLook | None = None
        self.load_since_s: float | None = None
        """When the load was noticed on [s]; None while it is off."""
        self._plan, self._hand, self._ramp, self._learned = plan, hand, ramp, learned
        self._trim: Trim | None = None
        self._hold: Hold | None = None
        self._began_s = self._holding_s = self._said_s = 0.0
        self._ready_s = 0.0
        self._light_amps = 0.0
        self._volts: float | None = None

    # ---- phase -----------------------------------------------------------------------------

    def begin(self, now_s: float) -> list[Command]:
        self._began_s = now_s
        self._trim = Trim(self.step.set_rpm, now_s) if self._plan.trims else None
        self._ready_s = max(now_s + LIGHT_S, self._learned.load_off_s + self._hand.rest_s)
        self.due_s = self._ready_s
        wait_s = self._ready_s - now_s
        if wait_s > LIGHT_S:
            return [HandsOn("LET THE PILE COOL", f"{wait_s:.0f} s more")]
        return []

    def pass_time(self, now_s: float) -> list[Command]:
        if self.stage == "light":
            self.stage, self._said_s = "loading", now_s
            self.due_s = math.inf
            volts = f"to {self._plan.test_volts:.1f} V" if self._plan.test_volts else ""
            return [HandsOn("CLOSE THE PILE", volts)]
        if self.stage in ("loading", "holding") and self.load_since_s is not None:
            return self._time_is_up(now_s)
        self.due_s = math.inf
        return []

    def take(self, value: Value) -> list[Command]:
        out: list[Command] = []
        if value.channel == SHAFT and self.stage == "light" and self._trim is not None:
            out += self._correct(self._trim.push(value.t_s, value.value))
        if value.channel == VOLTS:
            self._volts = value.value
        if value.channel == AMPS:
            out += self._watch_load(value)
        if self.stage == "loading" and value.channel == VOLTS:
            out += self._guide(value.t_s, value.value)
        if self.stage == "holding":
            out += self._take_point(value)
        return out

    def act(self, now_s: float, act: Act) -> list[Command]:
        if isinstance(act, SkipStep):
            return self._end(now_s, None)
        if isinstance(act, TakeNow) and self._hold is not None:
            return self._end(now_s, self._hold.give_up(now_s))
        return []

    # ---- the load --------------------------------------------------------------------------

    def _watch_load(self, value: Value) -> list[Command]:
        """Notice by the current alone whether the pile is closed."""
        if self.stage == "light":
            self._light_amps = value.value
            return []
        expected = self._expected_amps()
        on = value.value > self._light_amps + max(LEAST_LOAD_AMPS, 0.15 * expected)
        if on and self.load_since_s is None and self.stage != "opening":
            self.load_since_s = value.t_s
            self.due_s = value.t_s + self._seconds_good()
            return [LoadNoticed(on=True)]
        if not on and self.load_since_s is not None:
            return self._load_gone(value.t_s)
        return []

    def _load_gone(self, now_s: float) -> list[Command]:
        self.load_since_s = None
        self._learned.load_off_s = now_s
        out: list[Command] = [LoadNoticed(on=False)]
        if self.stage == "opening":
            self.over, self.due_s = True, math.inf
            return out
        self._hold = None
        self.stage = "loading"
        self.due_s = math.inf
        return [*out, HandsOn("CLOSE THE PILE", "it was opened before the point was taken")]

    def _seconds_good(self) -> float:
        most = self._hand.max_on_s
        return math.inf if most is None else max(most - OPEN_BEFORE_S, 1.0)

    def _expected_amps(self) -> float:
        rated = self._plan.rated_points
        near = min(rated, key=lambda p: abs(p[0] - self.step.set_rpm), default=None)
        return near[1] if near else 0.0

    # ---- setting and holding ---------------------------------------------------------------

    def _guide(self, now_s: float, volts: float) -> list[Command]:
        """Say which way the hand must go, at most once a second; hold once it is right."""
        target = self._plan.test_volts
        if target is None or self.load_since_s is None:
            return self._hold_from(now_s) if self.load_since_s is not None else []
        off = volts - target
        if abs(off) <= self._plan.volts_within:
            return self._hold_from(now_s)
        if now_s - self._said_s < SAY_EVERY_S:
            return []
        self._said_s = now_s
        words = "MORE LOAD" if off > 0 else "LESS LOAD"
        return [HandsOn(words, f"{abs(off):.2f} V {'too high' if off > 0 else 'too low'}")]

    def _hold_from(self, now_s: float) -> list[Command]:
        self.stage, self._holding_s = "holding", now_s
        plan = hold_plan(
            self._plan, shaft_rpm=self.step.set_rpm, began_s=now_s, learned=self._learned
        )
        self._hold = Hold(plan)
        return [HandsOn("HOLD IT THERE")]

    def _take_point(self, value: Value) -> list[Command]:
        target = self._plan.test_volts
        wandered = (
            value.channel == VOLTS
            and target is not None
            and abs(value.value - target) > 2 * self._plan.volts_within
        )
        if wandered:
            self.stage, self._hold = "loading", None
            return self._guide(value.t_s, value.value)
        if self._hold is None or value.channel not in self._plan.channels:
            return []
        look = self._hold.push(value.channel, value.t_s, value.value)
        self.look = look or self.look
        return [] if look is None or look.taken is None else self._end(value.t_s, look)

    def _time_is_up(self, now_s: float) -> list[Command]:
        """The pile must be opened: the point as it stands, widened, or none."""
        look = self._hold.give_up(now_s) if self._hold is not None else None
        remark = Remark("pile time up", {"held_s": now_s - self._holding_s})
        return [remark, *self._end(now_s, look)]

    def _end(self, now_s: float, look: HoldLook | None) -> list[Command]:
        taken = step_taken(
            self.step,
            look,
            plan=self._plan,
            learned=self._learned,
            set_rpm=self._ramp.set_rpm,
            settle_s=now_s - (self._holding_s or self._began_s),
        )
        if self.load_since_s is None:
            self.over, self.due_s = True, math.inf
            return [taken]
        self.stage, self._hold, self.due_s = "opening", None, math.inf
        return [taken, HandsOn("OPEN THE PILE")]

    def _correct(self, correction_rpm: float | None) -> list[Command]:
        if correction_rpm is None:
            return []
        wanted = self._ramp.set_rpm + correction_rpm
        self._ramp.go_to(wanted)
        self._ramp.set_rpm = wanted
        return [SetShaftRpm(wanted), Remark("trimmed", {"by_rpm": correction_rpm})]
