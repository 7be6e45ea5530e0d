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
from acquire.sweep.hand_guide import HandGuide
from acquire.sweep.holding import hold_plan, step_taken
from acquire.sweep.intake import SHAFT, VOLTS, Value
from acquire.sweep.learned import Learned
from acquire.sweep.load_watch import LoadWatch
from acquire.sweep.phases import PlainPhase
from acquire.sweep.plan import HandLoad, Step, SweepPlan
from acquire.sweep.ramp import Ramp, Trim

LIGHT_S = 2.0
"""Light running before the load is asked for: the speed has come to rest by then."""
LIGHT_AT_MOST_S = 45.0
"""A battery that still takes much keeps the voltage down; so long is waited for it to fill."""
ABOVE_TEST = 0.01
"""Light running must be above the test voltage by this share: a load only brings it down."""
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
        self._plan, self._hand, self._ramp, self._learned = plan, hand, ramp, learned
        self._trim: Trim | None = None
        self._hold: Hold | None = None
        self._began_s = self._holding_s = 0.0
        self.ready_s = 0.0
        """When the load may be asked for [s]: the pile is cool, the speed at rest."""
        expected_amps = plan.rated_amps_near(step.set_rpm) or 0.0
        self._load = LoadWatch(plan.test_volts, expected_amps)
        self._guide = HandGuide(plan.test_volts, plan.volts_within)
        self._lost = 0
        """How often the load was gone before the point was taken."""

    @property
    def cools(self) -> bool:
        """True where the pile had to cool before this step."""
        return self.ready_s - self._began_s > LIGHT_S

    @property
    def closed(self) -> bool:
        """True while the pile is seen closed."""
        return self._load.closed_s is not None

    @property
    def test_volts(self) -> float | None:
        """What the load is to bring the voltage to [V]; None where it is not known."""
        return self._plan.test_volts

    # ---- phase -----------------------------------------------------------------------------

    def begin(self, now_s: float) -> list[Command]:
        self._began_s = now_s
        self._trim = Trim(self.step.set_rpm, now_s) if self._plan.trims else None
        self.ready_s = max(now_s + LIGHT_S, self._learned.load_off_s + self._hand.rest_s)
        self.due_s = self.ready_s
        wait_s = self.ready_s - now_s
        if wait_s > LIGHT_S:
            return [HandsOn("LET THE PILE COOL", f"{wait_s:.0f} s more")]
        return []

    def pass_time(self, now_s: float) -> list[Command]:
        if self.stage == "light":
            return self._ask_for_load(now_s)
        if self.stage in ("loading", "holding") and self._load.closed_s is not None:
            return self._time_is_up(now_s)
        if self.stage == "opening" and self._lost > LOST_MOST:
            return self._load_gone(now_s)
        self.due_s = math.inf
        return []

    def take(self, value: Value) -> list[Command]:
        out: list[Command] = []
        if value.channel == SHAFT and self.stage == "light" and self._trim is not None:
            out += self._correct(self._trim.push(value.t_s, value.value))
        out += self._watch_load(value)
        if self.stage == "loading" and value.channel == VOLTS:
            out += self._set_it(value.t_s, value.value)
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
        light = self._load.last_volts or 0.0
        high = target is None or light >= target * (1 + ABOVE_TEST)
        if not high and now_s < self.ready_s + LIGHT_AT_MOST_S:
            self.due_s = now_s + LIGHT_S
            return []
        self.stage, self.due_s = "loading", math.inf
        self._guide.asked(now_s)
        volts = f"to {target:.1f} V" if target is not None else ""
        return [HandsOn("CLOSE THE PILE", volts)]

    def _watch_load(self, value: Value) -> list[Command]:
        """Notice that the pile was closed or opened.

        After too many losses jumps say nothing any more: hands get their time to open it.
        """
        moved = self._load.see(
            value, may_close=self.stage != "opening", may_open=self._lost <= LOST_MOST
        )
        if moved == "closed":
            self.due_s = value.t_s + self._seconds_good()
            return [LoadNoticed(on=True)]
        return self._load_gone(value.t_s) if moved == "opened" else []

    def _load_gone(self, now_s: float) -> list[Command]:
        self._load.closed_s = None
        self._learned.load_off_s = now_s
        out: list[Command] = [LoadNoticed(on=False)]
        if self.stage == "opening":
            self.over, self.due_s = True, math.inf
            return out
        self._hold = None
        self._guide.begin_again()
        self._lost += 1
        if self._lost > LOST_MOST:
            return [*out, *self._give_up(now_s)]
        self.stage = "loading"
        self.due_s = math.inf
        return [*out, HandsOn("CLOSE THE PILE", "it was opened before the point was taken")]

    def _give_up(self, now_s: float) -> list[Command]:
        """The point as it stands, or none; the pile may be closed still, so it is opened."""
        remark = Remark("load came and went", {"times": self._lost})
        self._load.closed_s = now_s
        out = self._end(now_s, self._last_known())
        self.due_s = now_s + OPENED_WITHIN_S
        return [LoadNoticed(on=True), remark, *out]

    def _seconds_good(self) -> float:
        most = self._hand.max_on_s
        return math.inf if most is None else max(most - OPEN_BEFORE_S, 1.0)

    # ---- setting and holding ---------------------------------------------------------------

    def _set_it(self, now_s: float, volts: float) -> list[Command]:
        """Say which way the hand must go; hold once it is right."""
        if self._load.closed_s is None:
            return []
        if self._guide.stands_right(now_s, volts):
            return self._hold_from(now_s)
        return list(self._guide.towards(now_s, volts))

    def _hold_from(self, now_s: float) -> list[Command]:
        self.stage, self._holding_s = "holding", now_s
        plan = hold_plan(
            self._plan, shaft_rpm=self.step.set_rpm, began_s=now_s, learned=self._learned
        )
        self._hold = Hold(plan)
        return [HandsOn("HOLD IT THERE")]

    def _take_point(self, value: Value) -> list[Command]:
        if value.channel == VOLTS and self._guide.wandered(value.value):
            self.stage, self._hold = "loading", None
            self._guide.begin_again()
            return self._set_it(value.t_s, value.value)
        if self._hold is None or value.channel not in self._plan.channels:
            return []
        look = self._hold.push(value.channel, value.t_s, value.value)
        self.look = look or self.look
        if look is not None and look.taken is not None:
            return self._end(value.t_s, look)
        return list(self._guide.keep(value.t_s, value.value)) if value.channel == VOLTS else []

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
        if self._load.closed_s is None:
            self.over, self.due_s = True, math.inf
            return [taken]
        self.stage, self._hold, self.due_s = "opening", None, math.inf
        return [taken, HandsOn("OPEN THE PILE")]

    def _correct(self, correction_rpm: float | None) -> list[Command]:
        if correction_rpm is None:
            return []
        return self._ramp.trim_by(correction_rpm)
