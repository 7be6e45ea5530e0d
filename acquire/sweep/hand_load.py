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
from acquire.sweep.intake import AMPS, SHAFT, VOLTS, Value
from acquire.sweep.learned import NO_OUTPUT_AMPS, Learned
from acquire.sweep.load_watch import LoadWatch
from acquire.sweep.plan import HandLoad, Step, SweepPlan
from acquire.sweep.ramp import Ramp
from acquire.sweep.step_phase import StepPhase

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
"""Where an opening cannot be told, as of a current that comes and goes or of a unit that gives
nothing, hands get so long for it."""
OPEN_BY_S = 0.5
"""But it is taken for open so long before the pile's own time is over."""
UNSEEN_S = 2.0
"""A current that is not read for so long cannot show that the pile was closed."""
NOTHING_S, NOTHING_FOR_S = 5.0, 3.0
"""Under load a unit that gives nothing for so long is not waited for, but read for so long."""
IS_IT_OPEN = "IS THE PILE OPEN?"
IF_CLOSED = "if it is closed, open it now"
NOT_SEEN_OPEN = "It cannot be seen that the pile was opened; it is taken for open."

Stage = Literal["light", "loading", "holding", "opening"]


class HandLoaded(StepPhase):
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
        super().__init__(step, plan=plan, ramp=ramp, learned=learned)
        self.stage: Stage = "light"
        self._hand = hand
        self._holding_s = 0.0
        self.ready_s = 0.0
        """When the load may be asked for [s]: the pile is cool, the speed at rest."""
        expected_amps = plan.rated_amps_near(step.set_rpm) or 0.0
        self._load = LoadWatch(plan.test_volts, expected_amps)
        self._guide = HandGuide(plan.test_volts, plan.volts_within)
        self._lost = 0
        """How often the load was gone before the point was taken."""
        self._asked_s = self._amps_s = 0.0
        """When the pile was to be closed, and when the current was read last [s]."""
        self._amps: float | None = None
        self._high = False
        """True once the unit, running light, stood above the test voltage: it gives something."""
        self._hidden = False
        """True once the pile counts as closed though that was not seen."""
        self._nothing_since_s: float | None = None
        self._dead = False
        """True while the load is held though nothing comes."""

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
        self._begun(now_s)
        self._amps_s = now_s
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
            return self._nothing_came(now_s) if self._dead else self._time_is_up(now_s)
        if self.stage == "loading":
            return self._not_seen_closed(now_s)
        if self.stage == "opening" and self._lost > LOST_MOST:
            return self._load_gone(now_s)
        if self.stage == "opening" and self._opens_unseen:
            return self._taken_for_open(now_s)
        self.due_s = math.inf
        return []

    def take(self, value: Value) -> list[Command]:
        out: list[Command] = []
        if value.channel == SHAFT and self.stage == "light" and self._trim is not None:
            out += self._correct(self._trim.push(value.t_s, value.value))
        if value.channel == AMPS:
            self._see_amps(value)
        out += self._watch_load(value)
        if self.stage == "loading" and value.channel == AMPS:
            out += self._watch_for_nothing(value.t_s)
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
        self._high = target is None or light >= target * (1 + ABOVE_TEST)
        if not self._high and now_s < self.ready_s + LIGHT_AT_MOST_S:
            self.due_s = now_s + LIGHT_S
            return []
        self.stage, self._asked_s = "loading", now_s
        self._expect_closing()
        self._guide.asked(now_s)
        volts = f"to {target:.1f} V" if target is not None else ""
        return [HandsOn("CLOSE THE PILE", volts)]

    def _watch_load(self, value: Value) -> list[Command]:
        """Notice that the pile was closed or opened.

        After too many losses jumps say nothing any more: hands get their time to open it.
        """
        may_open = self._lost <= LOST_MOST and not self._hidden
        moved = self._load.see(value, may_close=self.stage != "opening", may_open=may_open)
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
        self.stage, self._asked_s, self._dead = "loading", now_s, False
        self._nothing_since_s = None
        self._expect_closing()
        return [*out, HandsOn("CLOSE THE PILE", "it was opened before the point was taken")]

    def _give_up(self, now_s: float) -> list[Command]:
        """The point as it stands, or none; the pile may be closed still, so it is opened."""
        remark = Remark("load came and went", {"times": self._lost})
        self._load.closed_s = now_s
        out = self._end(now_s, self._last_known())
        self.due_s = now_s + OPENED_WITHIN_S
        return [LoadNoticed(on=True), remark, *out]

    # ---- what cannot be seen ---------------------------------------------------------------

    @property
    def _gives_nothing(self) -> bool:
        return self._amps is not None and self._amps < NO_OUTPUT_AMPS

    @property
    def _opens_unseen(self) -> bool:
        return self._gives_nothing or self._hidden

    def _see_amps(self, value: Value) -> None:
        self._amps, self._amps_s = value.value, value.t_s
        if self.stage == "loading" and not self.closed:
            self._expect_closing()

    def _expect_closing(self) -> None:
        """Until it is noticed: a current that is not read, or stays nothing, must not hide it."""
        unread_s = max(self._amps_s, self._asked_s) + UNSEEN_S
        hidden_s = math.inf if self._high or not self._gives_nothing else self._closed_for_sure_s
        self.due_s = min(unread_s, hidden_s)

    @property
    def _closed_for_sure_s(self) -> float:
        """When a pile that was closed as asked must be opened [s]."""
        good_s = self._seconds_good()
        return self._asked_s + (good_s if good_s < math.inf else LIGHT_AT_MOST_S)

    def _not_seen_closed(self, now_s: float) -> list[Command]:
        """The pile's time counts from when it was asked for, where its closing cannot be seen."""
        self._load.take_for_closed(self._asked_s)
        self._hidden = True
        self.due_s = max(self._asked_s + self._seconds_good(), now_s)
        unread = now_s - self._amps_s >= UNSEEN_S
        data: dict[str, object] = {"asked_s": self._asked_s, "current_read": not unread}
        out: list[Command] = [LoadNoticed(on=True), Remark("load taken for closed", data)]
        return out if unread else [*out, *self._end(now_s, None)]

    def _watch_for_nothing(self, now_s: float) -> list[Command]:
        """A pile is not left on the battery for a unit from which nothing comes."""
        if not (self.closed and self._gives_nothing):
            self._nothing_since_s = None
            return []
        if self._nothing_since_s is None:
            self._nothing_since_s = now_s
        if now_s - self._nothing_since_s < NOTHING_S:
            return []
        self._dead = True
        self.due_s = min(now_s + NOTHING_FOR_S, self.due_s)
        return self._hold_from(now_s)

    def _nothing_came(self, now_s: float) -> list[Command]:
        look = self._hold.give_up(now_s) if self._hold is not None else None
        remark = Remark("nothing came under load", {"held_s": now_s - self._holding_s})
        return [remark, *self._end(now_s, look)]

    def _taken_for_open(self, now_s: float) -> list[Command]:
        """The pile was to be opened, and only the hand knows whether it was."""
        remark = Remark("load taken for open", {}, NOT_SEEN_OPEN)
        return [remark, HandsOn(IS_IT_OPEN, IF_CLOSED), *self._load_gone(now_s)]

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
        self._hold = Hold(self._hold_plan(now_s))
        return [HandsOn("HOLD IT THERE")]

    def _take_point(self, value: Value) -> list[Command]:
        if self._dead and not self._gives_nothing:
            self._dead, self._nothing_since_s = False, None  # it came after all
            self.due_s = (self._load.closed_s or value.t_s) + self._seconds_good()
        if value.channel == VOLTS and self._guide.wandered(value.value) and not self._dead:
            self.stage, self._hold = "loading", None
            self._guide.begin_again()
            return self._set_it(value.t_s, value.value)
        if self._hold is None or value.channel not in self._plan.channels:
            return []
        look = self._hold.push(value.channel, value.t_s, value.value)
        self.look = look or self.look
        if look is not None and look.taken is not None:
            return self._end(value.t_s, look)
        keeps = value.channel == VOLTS and not self._dead
        return list(self._guide.keep(value.t_s, value.value)) if keeps else []

    def _time_is_up(self, now_s: float) -> list[Command]:
        """The pile must be opened: the point as it stands, widened, or none."""
        look = self._hold.give_up(now_s) if self._hold is not None else self._last_known()
        remark = Remark("pile time up", {"held_s": now_s - self._holding_s})
        return [remark, *self._end(now_s, look)]

    def _last_known(self) -> HoldLook | None:
        """The last look before the voltage wandered off, not to be called still."""
        return None if self.look is None else replace(self.look, taken="no")

    def _end(self, now_s: float, look: HoldLook | None) -> list[Command]:
        taken = self._taken(look, settle_s=now_s - (self._holding_s or self._began_s))
        if self._load.closed_s is None:
            self.over, self.due_s = True, math.inf
            return [taken]
        self.stage, self._hold, self._dead = "opening", None, False
        self.due_s = self._open_by_s(now_s) if self._opens_unseen else math.inf
        return [taken, HandsOn("OPEN THE PILE")]

    def _open_by_s(self, now_s: float) -> float:
        """When a pile that nobody sees opening is taken for open [s]."""
        most_s = self._hand.max_on_s
        closed_s = now_s if self._load.closed_s is None else self._load.closed_s
        over_s = math.inf if most_s is None else closed_s + most_s - OPEN_BY_S
        return max(now_s, min(now_s + OPENED_WITHIN_S, over_s))

    def _correct(self, correction_rpm: float | None) -> list[Command]:
        if correction_rpm is None:
            return []
        return self._ramp.trim_by(correction_rpm)
