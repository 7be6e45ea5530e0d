"""A switched bank of resistors: the steps on both sides of the test voltage, and between them."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

from acquire.plain_sum import plain_sum
from acquire.settle.hold import Hold
from acquire.settle.looks import ChannelLook, HoldLook
from acquire.sweep.commands import Act, Command, Remark, SetBank, SkipStep, TakeNow
from acquire.sweep.holding import hold_plan, step_taken
from acquire.sweep.intake import AMPS, SHAFT, VOLTS, Value
from acquire.sweep.learned import Learned
from acquire.sweep.phases import PlainPhase
from acquire.sweep.plan import Step, SweepPlan
from acquire.sweep.ramp import Ramp, Trim

LOOK_AFTER_S = 1.5
LOOK_FOR_S = 1.0
TRIES = 24


@lru_cache(maxsize=8)
def settings_of(amps: tuple[float, ...]) -> tuple[tuple[bool, ...], ...]:
    """Every useful setting of a bank with these steps [A], from nothing closed to all, by current.

    Of settings with the same current the one with the fewest steps closed counts. Step by step
    only the currents that can be reached are kept: all settings of a large bank are too many.
    """
    reached: dict[float, tuple[float, tuple[int, ...]]] = {0.0: (0.0, ())}
    for number, more in enumerate(amps):
        for total, closed in list(reached.values()):
            setting = (total + more, (*closed, number))
            key = round(setting[0], 6)
            if key not in reached or _before(setting[1], reached[key][1]):
                reached[key] = setting
    return tuple(
        tuple(number in reached[key][1] for number in range(len(amps))) for key in sorted(reached)
    )


def _before(closed: tuple[int, ...], other: tuple[int, ...]) -> bool:
    """True where `closed` has fewer steps, or as many and earlier ones."""
    return (len(closed), closed) < (len(other), other)


class BankLoaded(PlainPhase):
    """One step with a bank: seek the test voltage, hold on both sides of it, interpolate."""

    name = "bank load"

    def __init__(self, step: Step, *, plan: SweepPlan, ramp: Ramp, learned: Learned) -> None:
        super().__init__()
        self.step = step
        self.look: HoldLook | None = None
        self._plan, self._ramp, self._learned = plan, ramp, learned
        self._settings = settings_of(plan.bank_amps)
        self._at = 0
        self._began_s = self._set_s = 0.0
        self._seen: list[float] = []
        self._volts_at: dict[int, float] = {}
        self._held: dict[int, HoldLook] = {}
        self._hold: Hold | None = None
        self._tries = 0
        self._trim: Trim | None = None

    # ---- phase -----------------------------------------------------------------------------

    def begin(self, now_s: float) -> list[Command]:
        self._began_s = now_s
        self._trim = Trim(self.step.set_rpm, now_s) if self._plan.trims else None
        return self._set(self._first_guess(), now_s)

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
        if value.channel == VOLTS and value.t_s - self._set_s >= LOOK_AFTER_S:
            self._seen.append(value.value)
        return []

    def act(self, now_s: float, act: Act) -> list[Command]:
        if isinstance(act, SkipStep):
            return self._end(now_s, None)
        if isinstance(act, TakeNow) and self._hold is not None:
            return self._held_here(now_s, self._hold.give_up(now_s))
        return []

    def _correct(self, now_s: float, correction_rpm: float) -> list[Command]:
        """The speed is trimmed; what was being looked at begins anew."""
        again = self._hold_here(now_s) if self._hold is not None else []
        if self._hold is None:
            self._set_s, self._seen = now_s, []
            self.due_s = now_s + LOOK_AFTER_S + LOOK_FOR_S
        return [*self._ramp.trim_by(correction_rpm), *again]

    # ---- seeking ---------------------------------------------------------------------------

    def _amps_of(self, setting: int) -> float:
        closed = self._settings[setting]
        return plain_sum(a for a, on in zip(self._plan.bank_amps, closed, strict=True) if on)

    def _first_guess(self) -> int:
        rated_amps = self._plan.rated_amps_near(self.step.set_rpm)
        half = self._amps_of(len(self._settings) - 1) / 2
        wanted = half if rated_amps is None else rated_amps
        return min(range(len(self._settings)), key=lambda n: abs(self._amps_of(n) - wanted))

    def _set(self, setting: int, now_s: float) -> list[Command]:
        self._at, self._set_s, self._seen, self._hold = setting, now_s, [], None
        self._tries += 1
        self.due_s = now_s + LOOK_AFTER_S + LOOK_FOR_S
        return [SetBank(self._settings[setting])]

    def _decide(self, now_s: float) -> list[Command]:
        """The voltage at this setting is known: go nearer, or hold."""
        if not self._seen or self._tries > TRIES:
            return self._end(now_s, None)
        target = self._plan.test_volts or self._seen[-1]
        volts = plain_sum(self._seen) / len(self._seen)
        self._volts_at[self._at] = volts
        if abs(volts - target) <= self._plan.volts_within:
            return self._hold_here(now_s)
        onward = self._at + (1 if volts > target else -1)  # more load brings the voltage down
        if not 0 <= onward < len(self._settings):
            return self._hold_here(now_s)
        if onward in self._volts_at:
            return self._hold_here(now_s)
        return self._set(onward, now_s)

    # ---- holding ---------------------------------------------------------------------------

    def _hold_here(self, now_s: float) -> list[Command]:
        plan = hold_plan(
            self._plan, shaft_rpm=self.step.set_rpm, began_s=now_s, learned=self._learned
        )
        self._hold = Hold(plan)
        self.due_s = now_s + self._plan.give_up_s
        return [Remark("bank held", {"amps_closed": self._amps_of(self._at)})]

    def _held_here(self, now_s: float, look: HoldLook) -> list[Command]:
        self._held[self._at] = look
        self._hold = None
        other = self._other_side(look)
        if other is None:
            return self._end(now_s, self._between())
        return self._set(other, now_s)

    def _other_side(self, look: HoldLook) -> int | None:
        """The neighbouring setting on the other side of the test voltage, if it is still needed."""
        volts, target = look.channels.get(VOLTS), self._plan.test_volts
        if volts is None or target is None or len(self._held) > 1:
            return None
        if abs(volts.mean - target) <= self._plan.volts_within:
            return None
        other = self._at + (1 if volts.mean > target else -1)
        return other if 0 <= other < len(self._settings) and other not in self._held else None

    def _between(self) -> HoldLook:
        """The step's result: one setting alone, or two interpolated to the test voltage."""
        looks = list(self._held.values())
        if len(looks) == 1 or self._plan.test_volts is None:
            return looks[-1]
        return interpolated(looks[0], looks[1], self._plan.test_volts)

    def _end(self, now_s: float, look: HoldLook | None) -> list[Command]:
        self.over, self.due_s, self.look = True, math.inf, look
        return [
            step_taken(
                self.step,
                look,
                plan=self._plan,
                learned=self._learned,
                set_rpm=self._ramp.set_rpm,
                settle_s=now_s - self._began_s,
            )
        ]


def interpolated(one: HoldLook, other: HoldLook, volts: float) -> HoldLook:
    """Both sides of the test voltage, put together on the straight line between them.

    The doubt of each side is weighed by its nearness; half of what a curved line could deviate
    (taken as a tenth of the difference of the currents) is added.
    """
    low, high = one.channels[VOLTS].mean, other.channels[VOLTS].mean
    share = 0.5 if high == low else (volts - low) / (high - low)
    channels = {
        name: _mixed(look, other.channels[name], share, bend=0.05 if name == AMPS else 0.0)
        for name, look in one.channels.items()
        if name in other.channels
    }
    worst = "no" if "no" in (one.taken, other.taken) else other.taken
    return replace(other, channels=channels, taken=worst)


def _mixed(one: ChannelLook, other: ChannelLook, share: float, *, bend: float) -> ChannelLook:
    mean = one.mean + share * (other.mean - one.mean)
    bent = bend * abs(other.mean - one.mean)
    return replace(
        other,
        mean=mean,
        u=math.hypot((1 - share) * one.u, share * other.u, bent),
        dof=min(one.dof, other.dof),
        readings=one.readings + other.readings,
        unsteady=one.unsteady or other.unsteady,
    )
