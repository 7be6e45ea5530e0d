"""Holding one speed until every channel that must hold still does, or time is up."""

from __future__ import annotations

import math

from acquire.settle.hold import Hold
from acquire.settle.looks import HoldLook
from acquire.sweep.commands import (
    Act,
    CheckAnswered,
    Command,
    HandsOn,
    HoldLonger,
    SkipStep,
    TakeNow,
)
from acquire.sweep.intake import SHAFT, Value
from acquire.sweep.learned import Learned
from acquire.sweep.plan import Step, SweepPlan
from acquire.sweep.ramp import Ramp
from acquire.sweep.step_phase import StepPhase
from acquire.sweep.throttle import throttle_words, within
from acquire.sweep.typed import TypedStep

LEFT_FOR_S = 1.0
"""Outside twice the band for so long [s] a throttle set by hand has left the speed."""


class Holding(StepPhase):
    """One step: hold, trim, wait, take the point."""

    name = "holding"

    def __init__(self, step: Step, *, plan: SweepPlan, ramp: Ramp, learned: Learned) -> None:
        super().__init__(step, plan=plan, ramp=ramp, learned=learned)
        self.not_before_s = -math.inf
        """The operator wants it held until then [s]."""
        self._typed: TypedStep | None = None
        self._left_since_s: float | None = None

    # ---- phase -----------------------------------------------------------------------------

    def begin(self, now_s: float) -> list[Command]:
        self._begun(now_s)
        self._restart(now_s)
        return self._begin_typing(now_s)

    def pass_time(self, now_s: float) -> list[Command]:
        out = self._ask(now_s)
        if out:
            return out
        if now_s >= self._began_s + self._plan.give_up_s and now_s >= self.not_before_s:
            return self.give_up(now_s)
        self._plan_due()
        return []

    def take(self, value: Value) -> list[Command]:
        out: list[Command] = []
        if self._typed is not None and value.channel in self._plan.typed:
            out += self._take_typed(value)
        if value.channel == SHAFT:
            out += self._watch_speed(value)
        if self._hold is not None and value.channel in self._plan.channels and not self.over:
            look = self._hold.push(value.channel, value.t_s, value.value)
            if look is not None:
                self.look = look
                if look.taken is not None and value.t_s >= self.not_before_s:
                    out += self._taken_live(value.t_s, look)
        return out

    def act(self, now_s: float, act: Act) -> list[Command]:
        match act:
            case HoldLonger(for_s):
                self.not_before_s = now_s + for_s
                self._plan_due()
                return []
            case SkipStep():
                return self._point(now_s, None)
            case TakeNow():
                return self.give_up(now_s)
            case CheckAnswered():
                return []

    # ---- taking the point ------------------------------------------------------------------

    def give_up(self, now_s: float) -> list[Command]:
        """Time is up (or the operator's patience): the point as it stands, widened."""
        live = self._hold.give_up(now_s) if self._hold is not None else None
        typed = self._typed
        if typed is None:
            return self._point(now_s, live)
        return self._point(now_s, self._joined(typed, now_s, live) if typed.complete else None)

    def _taken_live(self, now_s: float, look: HoldLook) -> list[Command]:
        typed = self._typed
        if typed is None:
            return self._point(now_s, look)
        return self._point(now_s, self._joined(typed, now_s, look)) if typed.done else []

    def _joined(self, typed: TypedStep, now_s: float, live: HoldLook | None) -> HoldLook:
        """Typed and live channels as one look."""
        taken = live.taken if live is not None else "yes"
        return HoldLook(
            t_s=now_s,
            channels={**(live.channels if live else {}), **typed.looks()},
            taken=taken if typed.steady else "no",
            about_s=None,
            waiting_for="",
        )

    def _point(self, now_s: float, look: HoldLook | None) -> list[Command]:
        self.over, self.due_s = True, math.inf
        return [self._taken(look, settle_s=now_s - self._began_s)]

    # ---- speed -----------------------------------------------------------------------------

    def _restart(self, now_s: float) -> None:
        """Watch the channels that talk from now on; where everything is typed there is none."""
        plan = self._hold_plan(now_s)
        self._hold = Hold(plan) if plan.channels else None
        self._plan_due()

    def _watch_speed(self, value: Value) -> list[Command]:
        if self._trim is not None:
            correction = self._trim.push(value.t_s, value.value)
            if correction is not None:
                return self._correct(value.t_s, correction)
        return [] if self._plan.driven else self._watch_hand(value)

    def _correct(self, now_s: float, correction_rpm: float) -> list[Command]:
        self._restart(now_s)
        return self._ramp.trim_by(correction_rpm)

    def _watch_hand(self, value: Value) -> list[Command]:
        wanted, band = self.step.set_rpm, 2 * self._plan.speed_within_percent
        if within(value.value, wanted, band):
            self._left_since_s = None
            return []
        if self._left_since_s is None:
            self._left_since_s = value.t_s
            return []
        if value.t_s - self._left_since_s < LEFT_FOR_S:
            return []
        self._left_since_s = None
        self._restart(value.t_s)
        again = self._type_again(value.t_s)
        return [HandsOn(throttle_words(self._plan, wanted), "the speed has wandered off"), *again]

    # ---- typed readings --------------------------------------------------------------------

    def _begin_typing(self, now_s: float) -> list[Command]:
        words = throttle_words(self._plan, self.step.set_rpm)
        typed = self._plan.typed & self._plan.channels.keys()
        hands = [HandsOn(words)] if SHAFT in typed and not self._plan.driven else []
        return [*hands, *self._type_again(now_s)]

    def _type_again(self, now_s: float) -> list[Command]:
        """Ask for every typed reading from the first on; those of another speed count no more."""
        order = [name for name in self._plan.channels if name in self._plan.typed]
        if not order:
            return []
        self.look = None
        self._typed = TypedStep(self.step.set_rpm, self._plan.channels, order)
        return self._ask(now_s)

    def _ask(self, now_s: float) -> list[Command]:
        question = self._typed.ask(now_s) if self._typed is not None else None
        self._plan_due()
        return [question] if question is not None else []

    def _take_typed(self, value: Value) -> list[Command]:
        typed = self._typed
        if typed is None:
            return []
        typed.push(value.channel, value.t_s, value.value)
        if not typed.done:
            return self._ask(value.t_s)
        if self._hold is None or (self.look is not None and self.look.taken is not None):
            return self._point(value.t_s, self._joined(typed, value.t_s, self.look))
        return []

    def _plan_due(self) -> None:
        due = max(self._began_s + self._plan.give_up_s, self.not_before_s)
        if self._typed is not None:
            waits_for_hand = self._typed.asked is not None
            due = math.inf if waits_for_hand else min(due, self._typed.due_s())
        self.due_s = due
