"""A load set by hand, good for some seconds: more load, less load, and OPEN THE PILE in time."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from acquire.settle.hold import Hold
from acquire.settle.looks import HoldLook
from acquire.sweep.commands import (
    Act,
    Command,
    HandsOn,
    LoadNoticed,
    Remark,
    SkipStep,
    TakeNow,
)
from acquire.sweep.holding import hold_plan, step_taken
from acquire.sweep.intake import AMPS, SHAFT, VOLTS, Value
from acquire.sweep.jump import Jump
from acquire.sweep.learned import Learned
from acquire.sweep.phases import PlainPhase
from acquire.sweep.plan import HandLoad, Step, SweepPlan
from acquire.sweep.ramp import Ramp, Trim

LIGHT_S = 2.0
"""Light running before the load is asked for: the speed has come to rest by then."""
SAY_EVERY_S = 1.0
LIGHT_AT_MOST_S = 45.0
"""A battery that still takes much keeps the voltage down; so long is waited for it to fill."""
ABOVE_TEST = 0.01
"""Light running must be above the test voltage by this share: a load only brings it down."""
LOAD_DROPS_VOLTS = 0.007
"""A pile that is closed drops the voltage at once by more than this share of the test voltage,"""
LOAD_TAKES_AMPS, LOAD_TAKES = 4.0, 0.08
"""or takes at once so many amps, or this share of what the unit should give."""
UNKNOWN_VOLTS = 13.5
"""Test voltage taken for that drop where none is known [V]: in a 24 V system a pile is then noticed
a little too early, which is better than not at all."""
RIGHT_FOR_S = 0.8
"""The voltage must stand right for so long before the reading begins."""
KEEP = 0.6
"""Outside this share of the band the hand is reminded, while the reading goes on."""
WANDERED = 1.4
"""Outside so many times the allowed band the load must be set again."""
OPEN_BEFORE_S = 2.0
"""The point is taken so long before the pile must be open: hands need a moment."""
LOST_MOST = 8
"""Gone so often in one step, the load is not what comes and goes: a brush that lifts looks so."""
OPENED_WITHIN_S = 5.0
"""While the current comes and goes an opening cannot be told; hands get so long for it."""

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
        self._jumps = {
            VOLTS: Jump(-1, LOAD_DROPS_VOLTS * (plan.test_volts or UNKNOWN_VOLTS)),
            AMPS: Jump(+1, max(LOAD_TAKES_AMPS, LOAD_TAKES * self._expected_amps())),
        }
        self._right_since_s: float | None = None
        self._lost = 0
        """How often the load was gone before the point was taken."""

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
            return self._ask_for_load(now_s)
        if self.stage in ("loading", "holding") and self.load_since_s is not None:
            return self._time_is_up(now_s)
        if self.stage == "opening" and self._lost > LOST_MOST:
            return self._load_gone(now_s)
        self.due_s = math.inf
        return []

    def take(self, value: Value) -> list[Command]:
        out: list[Command] = []
        if value.channel == SHAFT and self.stage == "light" and self._trim is not None:
            out += self._correct(self._trim.push(value.t_s, value.value))
        if value.channel in self._jumps:
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

    def _ask_for_load(self, now_s: float) -> list[Command]:
        """Light running is over once the voltage stands above the test voltage, or time is up."""
        target = self._plan.test_volts
        light = self._jumps[VOLTS].last or 0.0
        high = target is None or light >= target * (1 + ABOVE_TEST)
        if not high and now_s < self._ready_s + LIGHT_AT_MOST_S:
            self.due_s = now_s + LIGHT_S
            return []
        self.stage, self._said_s, self.due_s = "loading", now_s, math.inf
        volts = f"to {target:.1f} V" if target is not None else ""
        return [HandsOn("CLOSE THE PILE", volts)]

    def _watch_load(self, value: Value) -> list[Command]:
        """Notice by a jump of voltage or current that the pile was closed or opened."""
        jump = self._jumps[value.channel]
        change = jump.push(value.t_s, value.value)
        if self.load_since_s is None:
            if self.stage == "opening" or not jump.closed(change):
                return []
            for one in self._jumps.values():
                one.mark()
            self.load_since_s = value.t_s
            self.due_s = value.t_s + self._seconds_good()
            return [LoadNoticed(on=True)]
        if self._lost > LOST_MOST:
            return []  # jumps say nothing any more: hands get their time to open the pile
        return self._load_gone(value.t_s) if jump.opened(change) else []

    def _load_gone(self, now_s: float) -> list[Command]:
        self.load_since_s = None
        self._learned.load_off_s = now_s
        out: list[Command] = [LoadNoticed(on=False)]
        if self.stage == "opening":
            self.over, self.due_s = True, math.inf
            return out
        self._hold = self._right_since_s = None
        self._lost += 1
        if self._lost > LOST_MOST:
            return [*out, *self._give_up(now_s)]
        self.stage = "loading"
        self.due_s = math.inf
        return [*out, HandsOn("CLOSE THE PILE", "it was opened before the point was taken")]

    def _give_up(self, now_s: float) -> list[Command]:
        """The point as it stands, or none; the pile may be closed still, so it is opened."""
        remark = Remark("load came and went", {"times": self._lost})
        self.load_since_s = now_s
        out = self._end(now_s, self._last_known())
        self.due_s = now_s + OPENED_WITHIN_S
        return [LoadNoticed(on=True), remark, *out]

    def _seconds_good(self) -> float:
        most = self._hand.max_on_s
        return math.inf if most is None else max(most - OPEN_BEFORE_S, 1.0)

    def _expected_amps(self) -> float:
        return self._plan.rated_amps_near(self.step.set_rpm) or 0.0

    # ---- setting and holding ---------------------------------------------------------------

    def _guide(self, now_s: float, volts: float) -> list[Command]:
        """Say which way the hand must go, at most once a second; hold once it is right."""
        target = self._plan.test_volts
        if target is None or self.load_since_s is None:
            return self._hold_from(now_s) if self.load_since_s is not None else []
        off = volts - target
        if abs(off) <= self._plan.volts_within:
            return self._right(now_s)
        self._right_since_s = None
        if now_s - self._said_s < SAY_EVERY_S:
            return []
        self._said_s = now_s
        words = "MORE LOAD" if off > 0 else "LESS LOAD"
        return [HandsOn(words, f"{abs(off):.2f} V {'too high' if off > 0 else 'too low'}")]

    def _right(self, now_s: float) -> list[Command]:
        if self._right_since_s is None:
            self._right_since_s = now_s
        return self._hold_from(now_s) if now_s - self._right_since_s >= RIGHT_FOR_S else []

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
            and abs(value.value - target) > WANDERED * self._plan.volts_within
        )
        if wandered:
            self.stage, self._hold, self._right_since_s = "loading", None, None
            return self._guide(value.t_s, value.value)
        if self._hold is None or value.channel not in self._plan.channels:
            return []
        look = self._hold.push(value.channel, value.t_s, value.value)
        self.look = look or self.look
        if look is not None and look.taken is not None:
            return self._end(value.t_s, look)
        return self._keep(value) if value.channel == VOLTS else []

    def _keep(self, value: Value) -> list[Command]:
        """While the reading runs: a gentle word before the voltage leaves the band."""
        off = value.value - (self._plan.test_volts or value.value)
        if abs(off) < KEEP * self._plan.volts_within or value.t_s - self._said_s < SAY_EVERY_S:
            return []
        self._said_s = value.t_s
        words = "MORE LOAD" if off > 0 else "LESS LOAD"
        return [HandsOn(words, f"{abs(off):.2f} V, a little")]

    def _time_is_up(self, now_s: float) -> list[Command]:
        """The pile must be opened: the point as it stands, widened, or none."""
        look = self._hold.give_up(now_s) if self._hold is not None else self._last_known()
        remark = Remark("pile time up", {"held_s": now_s - self._holding_s})
        return [remark, *self._end(now_s, look)]

    def _last_known(self) -> HoldLook | None:
        """The last look before the voltage wandered off, not to be called still."""
        return None if self.look is None else replace(self.look, taken="no")

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
        return self._ramp.trim_by(correction_rpm)
