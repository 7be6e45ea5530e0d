"""The sweep as a state machine: readings in, commands out. No I/O, no clock, no threads.

Time inside is the time of the readings. `step` may be called as often as one likes: it decides by
reading times alone. Where the passing of time decides something between two readings it says so
(`TickDecided`), so that a replay decides the same at the same place.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence

from acquire.sweep.bank_load import BankLoaded
from acquire.sweep.checking import Checking, SpeedCheck
from acquire.sweep.commands import (
    Act,
    Command,
    Finished,
    HandsOn,
    Remark,
    StepTaken,
    TickDecided,
)
from acquire.sweep.doubtful_current import DoubtfulCurrent, Unseen
from acquire.sweep.feeding import Feeding
from acquire.sweep.hand_load import HandLoaded
from acquire.sweep.holding import Holding
from acquire.sweep.intake import AMPS, SHAFT, VOLTS, Intake
from acquire.sweep.learned import Learned
from acquire.sweep.phases import Phase, PlainPhase
from acquire.sweep.plan import Step, SweepPlan
from acquire.sweep.ramp import Ramp
from acquire.sweep.standstill import Loading, Zeroing
from acquire.sweep.throttle import Throttle
from acquire.sweep.turning import Turning
from acquire.sweep.warming import Warming
from drivers.readings import Reading

NO_OUTPUT = "NOT EXCITED, OR DEAD?"
NO_OUTPUT_WORDS = "Not excited, or dead?"
WHAT_TO_TRY = (
    "nothing comes at two speeds: lamp and ignition feed connected? Brushes touching? Stop, check"
    " the wiring at standstill, and only then call it dead"
)
LITTLE_CURRENT = "HARDLY A CURRENT: REGULATOR LOW, OR AMMETER?"
FED_ABOVE_REST = 0.008
"""So far above where it stood at rest, as a share of that, B+ is fed: 0.1 V of a 12 V battery
(our choice, no source)."""

TO_READ_S = 8.0
"""Without a drive the next speed is asked for so much later: that must be read first [s]."""


class Waiting(PlainPhase):
    """Before the first reading."""

    name = "waiting"

    def __init__(self) -> None:
        super().__init__()
        self.over = True
        self.due_s = -math.inf


class Silent(PlainPhase):
    """Two steps without any output: say what that may be, and go on."""

    name = "no output"

    def __init__(self, for_s: float, *, fed_volts: tuple[float, float] | None = None) -> None:
        """`for_s`: so long nothing else is asked of the hands.

        `fed_volts`: B+ now and at rest [V], where it stands so far above that something feeds it.
        """
        super().__init__()
        self._for_s = for_s
        self._fed_volts = fed_volts

    def begin(self, now_s: float) -> list[Command]:
        self.due_s = now_s + self._for_s
        self.over = self._for_s == 0.0
        if self._fed_volts is not None:
            return self._fed(*self._fed_volts)
        words = f"{NO_OUTPUT_WORDS} {WHAT_TO_TRY[0].upper()}{WHAT_TO_TRY[1:]}."
        return [HandsOn(NO_OUTPUT), Remark("no output", {"what": WHAT_TO_TRY}, words)]

    @staticmethod
    def _fed(volts: float, rest_volts: float) -> list[Command]:
        words = (
            f"Hardly a current at two speeds, though B+ stands at {volts:.2f} V, above the"
            f" {rest_volts:.2f} V at rest: it is excited. The regulator is low, or the ammeter does"
            " not read (shunt or clamp, leads, scale)."
        )
        data: dict[str, object] = {"volts": volts, "rest_volts": rest_volts}
        return [HandsOn(LITTLE_CURRENT), Remark("hardly a current", data, words)]

    def pass_time(self, now_s: float) -> list[Command]:
        self.over, self.due_s = True, math.inf
        return []


class LeftOut(PlainPhase):
    """A step that was left before its speed was reached: a row without a point."""

    name = "left out"

    def __init__(self, step: Step) -> None:
        super().__init__()
        self.step = step

    def begin(self, now_s: float) -> list[Command]:
        self.over = True
        step = self.step
        return [StepTaken(step.number, step.set_rpm, 0.0, None, None, direction=step.direction)]


class Sweep:
    """One sweep of one unit. Feed it every reading in order; carry out what it returns."""

    def __init__(
        self,
        plan: SweepPlan,
        *,
        done: Collection[int] = (),
        learned: Learned | None = None,
        checks: Sequence[SpeedCheck] = (),
    ) -> None:
        """`done`: numbers of steps that have their point already (of a resumed run).

        `checks`: those that an operator is there to answer, at their own speeds, at the end.
        """
        self.plan = plan
        self.intake = Intake(plan)
        self._doubtful = DoubtfulCurrent(plan, self.intake)
        self.learned = learned or Learned()
        self.current: Step | None = None
        """The step being worked on, or None before the first and after the last."""
        self.begun = False
        """True from the moment the first step's speed is asked for."""
        self.finished = False
        self._ramp = Ramp(plan.ramp_rpm_per_s)
        self._now_s = -math.inf
        self.phase: Phase = Waiting()
        self.checks = tuple(checks)
        self._phases = self._procedure(frozenset(done))

    def _procedure(self, done: frozenset[int]) -> Iterator[Phase]:
        """The whole test, in order."""
        plan = self.plan
        left = [step for step in plan.steps if step.number not in done]
        if not left and not self.checks:
            return  # a resumed run with every speed measured: nothing is loaded, nothing turns
        if plan.driven and AMPS not in plan.typed:
            yield Zeroing(self.intake)
            if plan.fed_by_hand:
                yield Feeding(plan.fed_by_hand)
        yield Loading(plan, self.intake)
        if plan.warm_up is not None and left:
            yield from self._reach(Step(0, plan.warm_up.shaft_rpm))
            yield Warming(plan.warm_up, plan=plan, learned=self.learned)
        for step in left:
            self.current, self.begun = step, True
            yield from self._reach(step)
            yield LeftOut(step) if self._skipped else self._hold(step)
            if words := self._doubtful.after_a_step():
                yield Unseen(words)
            if self.learned.gives_nothing() and not plan.load_stays_off:
                yield Silent(0.0 if plan.driven else TO_READ_S, fed_volts=self._fed_volts())
        self.current = None
        for check in self.checks:
            yield from self._reach(Step(0, check.set_rpm))
            yield Checking(check, plan)

    def _fed_volts(self) -> tuple[float, float] | None:
        """B+ now and at rest [V], where something feeds it; None where not, or not known."""
        rest, now = self.intake.rest_volts, self.intake.last.get(VOLTS)
        if rest is None or now is None or now.value < rest * (1.0 + FED_ABOVE_REST):
            return None
        return now.value, rest

    def _hold(self, step: Step) -> Phase:
        """One step at its speed, with the kind of load this rig has."""
        plan, ramp, learned = self.plan, self._ramp, self.learned
        if plan.hand_load is not None:
            return HandLoaded(step, plan=plan, hand=plan.hand_load, ramp=ramp, learned=learned)
        if plan.load == "bank":
            return BankLoaded(step, plan=plan, ramp=ramp, learned=learned)
        return Holding(step, plan=plan, ramp=ramp, learned=learned)

    @property
    def _skipped(self) -> bool:
        """True where the operator left the speed before it was reached."""
        return isinstance(self.phase, Throttle) and self.phase.skipped

    def _reach(self, step: Step) -> Iterator[Phase]:
        if self.plan.driven:
            yield Turning(step.set_rpm, ramp=self._ramp, lead=self.learned.lead)
        elif SHAFT not in self.plan.typed:
            yield Throttle(step, self.plan)

    @property
    def set_rpm(self) -> float:
        """The speed the drive is told to have now [rpm at the shaft, without slip]."""
        return self._ramp.set_rpm

    def step(self, now_s: float, readings: Sequence[Reading]) -> list[Command]:
        """Take `readings` in order, then let time pass to `now_s`; what is to be done now."""
        out: list[Command] = []
        for reading in readings:
            out += self._read(reading)
        if now_s > self._now_s and now_s >= self.phase.due_s and not self.finished:
            self._now_s = now_s
            out += [TickDecided(now_s), *self._pass_time()]
        return out

    def act(self, now_s: float, act: Act) -> list[Command]:
        """The operator wants something other than waiting."""
        self._now_s = max(self._now_s, now_s)
        return self.phase.act(self._now_s, act) + self._move_on()

    def _read(self, reading: Reading) -> list[Command]:
        self._now_s = max(self._now_s, reading.t_s)
        out = self._move_on() + self._pass_time()
        value = self.intake.take(reading)
        if value is None or self.finished:
            return out
        self._doubtful.take(value)
        return out + self.phase.take(value) + self._move_on()

    def _pass_time(self) -> list[Command]:
        out: list[Command] = []
        while self._now_s >= self.phase.due_s and not self.finished:
            out += self.phase.pass_time(self._now_s) + self._move_on()
        return out

    def _move_on(self) -> list[Command]:
        out: list[Command] = []
        while self.phase.over and not self.finished:
            following = next(self._phases, None)
            if following is None:
                self.finished = True
                out.append(Finished())
            else:
                self.phase = following
                out += following.begin(self._now_s)
        return out
