"""A switched bank of resistors: the steps on both sides of the test voltage, and between them."""

from __future__ import annotations

import math

from acquire.plain_sum import plain_sum
from acquire.settle.hold import Hold
from acquire.settle.looks import HoldLook
from acquire.sweep.bank_between import interpolated, nearest_alone, nearest_pair
from acquire.sweep.bank_seek import SWITCHINGS_AT_MOST, BankSeek, Tried
from acquire.sweep.bank_settings import amps_of_settings, settings_of
from acquire.sweep.commands import Act, Command, Remark, SetBank, SkipStep, TakeNow
from acquire.sweep.intake import AMPS, SHAFT, VOLTS, Value
from acquire.sweep.learned import Learned
from acquire.sweep.plan import Step, SweepPlan
from acquire.sweep.ramp import Ramp
from acquire.sweep.step_phase import StepPhase

LOOK_AFTER_S = 1.5
"""After a switching the field needs so long to follow (common practice, no source)."""
LOOK_FOR_S = 1.0
"""A look averages so long, over the ripple of the readings."""
LOOK_AT_MOST_S = 10.0
"""A slow voltmeter is waited for so long; the guard stops the run where it is silent."""
HOLDS_AT_MOST = 4
"""Two settings make a point; more only where the voltage wandered across while one was held."""
TIMES_GIVEN_UP = 2.0
"""No setting is held anew after so many times the time for giving up."""


class BankLoaded(StepPhase):
    """One step with a bank: seek the test voltage, hold on both sides of it, interpolate."""

    name = "bank load"

    def __init__(self, step: Step, *, plan: SweepPlan, ramp: Ramp, learned: Learned) -> None:
        super().__init__(step, plan=plan, ramp=ramp, learned=learned)
        if plan.test_volts is None:
            raise ValueError("a bank is switched towards a test voltage, and none is known")
        self.test_volts: float = plan.test_volts
        self._settings = settings_of(plan.bank_amps)
        self._amps = amps_of_settings(plan.bank_amps)
        self._seek = BankSeek(
            self._amps,
            test_volts=plan.test_volts,
            battery_amps=learned.battery_amps,
        )
        self._at = 1
        self._set_s = 0.0
        self._seen: dict[str, list[float]] = {VOLTS: [], AMPS: []}
        self._looks: list[HoldLook] = []
        self._sought = False
        """True once the search is over: what is switched from then on is held."""
        self._switchings = 0

    @property
    def holds(self) -> bool:
        """True while a setting is held for its reading, not tried."""
        return self._hold is not None

    @property
    def amps_closed(self) -> float:
        """What the steps now closed take at the test voltage [A]."""
        return self._amps[self._at]

    # ---- phase -----------------------------------------------------------------------------

    def begin(self, now_s: float) -> list[Command]:
        self._begun(now_s)
        return self._set(self._seek.first(self._expected_amps()), now_s)

    def pass_time(self, now_s: float) -> list[Command]:
        if self._hold is not None:
            return self._held_here(now_s, self._hold.give_up(now_s))
        return self._decide(now_s)

    def take(self, value: Value) -> list[Command]:
        if value.channel == SHAFT and self._trim is not None:
            correction = self._trim.push(value.t_s, value.value)
            if correction is not None:
                return self._correct(value.t_s, correction)
        if self._hold is not None:
            if value.channel not in self._plan.channels:
                return []
            look = self._hold.push(value.channel, value.t_s, value.value)
            self.look = look or self.look
            done = look is not None and look.taken is not None
            return self._held_here(value.t_s, look) if done and look is not None else []
        if value.channel in self._seen and value.t_s - self._set_s >= LOOK_AFTER_S:
            self._seen[value.channel].append(value.value)
        return []

    def act(self, now_s: float, act: Act) -> list[Command]:
        if isinstance(act, SkipStep):
            return self._end(now_s, None)
        if isinstance(act, TakeNow) and (self._hold is not None or self._looks):
            if self._hold is not None:
                self._looks.append(self._hold.give_up(now_s))
            return self._end(now_s, self._best())
        return []

    def _correct(self, now_s: float, correction_rpm: float) -> list[Command]:
        """The speed is trimmed; what was being looked at begins anew."""
        again = self._hold_here(now_s) if self._hold is not None else []
        if self._hold is None:
            self._look_from(now_s)
        return [*self._ramp.trim_by(correction_rpm), *again]

    # ---- seeking ---------------------------------------------------------------------------

    def _expected_amps(self) -> float | None:
        """What this unit should give here [A]: off the rated curve as it was at the step before."""
        rated = self._plan.rated_amps_near(self.step.set_rpm)
        if not self._learned.points:
            return rated
        rpm, amps = self._learned.points[-1]
        before = self._plan.rated_amps_near(rpm)
        if rated is None or not before:
            return self._learned.amps_towards(self.step.set_rpm)
        return rated * max(amps, 0.0) / before

    def _set(self, setting: int, now_s: float) -> list[Command]:
        self._at, self._hold = setting, None
        self._switchings += 1
        self._look_from(now_s)
        return [SetBank(self._settings[setting])]

    def _look_from(self, now_s: float) -> None:
        self._set_s, self._seen = now_s, {VOLTS: [], AMPS: []}
        self.due_s = now_s + LOOK_AFTER_S + LOOK_FOR_S

    def _decide(self, now_s: float) -> list[Command]:
        """The voltage at this setting is known: go nearer, or hold."""
        volts, amps = self._seen[VOLTS], self._seen[AMPS]
        if not volts or not amps:
            return self._wait_for_readings(now_s)
        onward = self._seek.after(Tried(self._at, _mean(volts), _mean(amps)))
        if self._sought or onward is None:
            return self._hold_here(now_s)
        if self._switchings >= SWITCHINGS_AT_MOST:
            return [self._limit(self._no_end()), *self._hold_here(now_s)]
        return self._set(onward, now_s)

    def _wait_for_readings(self, now_s: float) -> list[Command]:
        if now_s - self._set_s < LOOK_AT_MOST_S:
            self.due_s = now_s + LOOK_FOR_S
            return []
        missing = " and ".join(name for name in (VOLTS, AMPS) if not self._seen[name])
        words = f"At {self._speed} no {missing} were read for {LOOK_AT_MOST_S:g} s: no point."
        return [self._limit(words), *self._end(now_s, self._best())]

    # ---- holding ---------------------------------------------------------------------------

    def _hold_here(self, now_s: float) -> list[Command]:
        self._hold, self.look, self._sought = Hold(self._hold_plan(now_s)), None, True
        self.due_s = now_s + self._plan.give_up_s
        return [Remark("bank held", {"amps_closed": self.amps_closed})]

    def _held_here(self, now_s: float, look: HoldLook) -> list[Command]:
        self._looks.append(look)
        self._hold = None
        volts, amps = look.channels.get(VOLTS), look.channels.get(AMPS)
        if volts is None or amps is None:
            return self._end(now_s, self._best())
        right = abs(volts.mean - self.test_volts) <= self._plan.volts_within
        if right:
            taken = self.amps_closed * volts.mean / self.test_volts
            self._learned.battery_amps = amps.mean - taken
        if right or nearest_pair(self._looks, self.test_volts) is not None:
            return self._end(now_s, self._best())
        tried = Tried(self._at, volts.mean, amps.mean)
        onward = self._seek.across(tried)
        why = self._why_no_more(tried, onward, now_s)
        if why or onward is None:
            return [self._limit(why), *self._end(now_s, self._best())]
        return self._set(onward, now_s)

    def _best(self) -> HoldLook | None:
        """The step's result: interpolated to the test voltage, or the nearest setting alone."""
        if not self._looks:
            return None
        pair = nearest_pair(self._looks, self.test_volts)
        if pair is None:
            return nearest_alone(self._looks, self.test_volts)
        return interpolated(*pair, self.test_volts)

    def _end(self, now_s: float, look: HoldLook | None) -> list[Command]:
        self.over, self.due_s, self.look = True, math.inf, look
        return [self._taken(look, settle_s=now_s - self._began_s)]

    # ---- words -----------------------------------------------------------------------------

    @property
    def _speed(self) -> str:
        return f"{self.step.set_rpm:.0f} rpm"

    def _limit(self, words: str) -> Remark:
        facts: dict[str, object] = {"amps_closed": self.amps_closed, "switchings": self._switchings}
        return Remark("bank limit", facts, words)

    def _why_no_more(self, tried: Tried, onward: int | None, now_s: float) -> str:
        """Why the test voltage is not reached; empty where the search may go on."""
        stands, wanted = f"{tried.volts:.2f} V", f"{self.test_volts:g} V"
        if onward is None and tried.volts > self.test_volts:
            return (
                f"The bank is too small at {self._speed}: with all its steps closed"
                f" ({self.amps_closed:g} A) the voltage stands at {stands}, not {wanted}. The unit"
                " could give more; add resistors, or test it on a larger bank."
            )
        if onward is None:
            return (
                f"The bank's smallest step ({self.amps_closed:g} A) takes more than the unit gives"
                f" at {self._speed}: {stands}, not {wanted}. It stays closed while the unit turns;"
                " a smaller step would bring the test voltage."
            )
        held_s = now_s - self._began_s
        if len(self._looks) < HOLDS_AT_MOST and held_s < TIMES_GIVEN_UP * self._plan.give_up_s:
            return ""
        return (
            f"At {self._speed} the voltage wandered while the bank was held, and {wanted} did not"
            f" come between two settings in {held_s:.0f} s: the setting at {stands} counts."
        )

    def _no_end(self) -> str:
        return (
            f"At {self._speed} the bank was switched {self._switchings} times without coming near"
            f" {self.test_volts:g} V: the unit, or its battery, changes from moment to moment. It"
            f" is read at {self.amps_closed:g} A as it stands."
        )


def _mean(values: list[float]) -> float:
    return plain_sum(values) / len(values)
