"""What one step waits for: all channels together, from one speed command to the next.

A step is settled when every channel that must hold still is (intersection-union test: each at
95 %, no further correction; Berger, Technometrics 24, 1982, 295-300). It is predicted when the
current's final value is known well enough and nothing else disturbs. A hold knows reading times
only, no clock: the same readings give the same answer, however they were handed over.
"""

from __future__ import annotations

import math
from dataclasses import replace

from acquire.settle.blocks import BLOCK_S
from acquire.settle.channel_watch import ChannelWatch
from acquire.settle.equivalence import LOOK_BLOCKS, SHORT_WINDOW_BLOCKS, WINDOW_BLOCKS, State
from acquire.settle.freed_current import FreedCurrent
from acquire.settle.looks import CURRENT, SPEED, ChannelLook, HoldLook, HoldPlan, Taken
from acquire.settle.lore import Lore
from acquire.settle.prediction import CAUTIOUS, FAST, Prediction
from acquire.settle.tolerance import THERMAL_PERCENT, ChannelPlan
from acquire.settle.waiting import about_predicted_s, about_s, waiting_for

__all__ = ["ChannelLook", "ChannelPlan", "Hold", "HoldLook", "HoldPlan", "Lore", "State", "Taken"]

LATE_S = 0.25
"""So long a look waits for channels whose reading is still on its way [s]."""
HUNTING_BAND = 0.01
"""A speed that stays in a band of 1 % may hunt: its pull on the current is taken out."""
EXTRA_PART = 0.25
"""The fast form adds half a tolerance to U95, in quadrature: this share of it to u."""
BELIEVED_MISFIT = 1.5
"""A model that foretells no worse than that also corrects a settled value for its lag."""
DIGITS = 10
"""Significant digits of a predicted value: more would differ from computer to computer."""


class Hold:
    """Watches all channels of one step."""

    def __init__(self, plan: HoldPlan) -> None:
        self.plan = plan
        self._watches = {name: _watch(plan, name) for name in plan.channels}
        self._must = {n: w for n, w in self._watches.items() if w.plan.must_hold}
        self._speed = self._watches.get(SPEED)
        amps = self._watches.get(CURRENT)
        self._freed = FreedCurrent(plan, amps, self._speed) if amps is not None else None
        self._looks = 0
        self._due_s = plan.began_s + BLOCK_S
        self._learned = False

    def push(self, channel: str, t_s: float, value: float) -> HoldLook | None:
        """Take one usable reading; the newest look where it ended a half second.

        Readings of channels that are not in the plan are ignored.
        """
        watch = self._watches.get(channel)
        if watch is None:
            return None
        watch.push(t_s, value)
        return self._advance(t_s) if t_s >= self._due_s else None

    def give_up(self, t_s: float) -> HoldLook:
        """Time is up: the values as they stand, with widened uncertainty.

        A step that is settled by now is still taken as settled.
        """
        for watch in self._watches.values():
            watch.finish(t_s)
        return self._look(t_s, final=True)

    # ---- looks -----------------------------------------------------------------------------

    def _advance(self, t_s: float) -> HoldLook | None:
        """Every look that is due; the first that takes the step, else the last."""
        look: HoldLook | None = None
        while t_s >= self._due_s and (t_s >= self._due_s + LATE_S or self._all_in()):
            for watch in self._watches.values():
                watch.close_until(self._due_s)
            look = self._look(self._due_s)
            self._due_s = self.plan.began_s + (self._looks + 1) * BLOCK_S
            if look.taken is not None:
                break
        return look

    def _all_in(self) -> bool:
        """True when every channel that must hold still has passed the end of this block."""
        return all(watch.series.closed > self._looks for watch in self._must.values())

    def _look(self, t_s: float, *, final: bool = False) -> HoldLook:
        self._looks += 1
        if self._freed is not None:
            self._freed.follow()
        if final or self._looks % LOOK_BLOCKS == 0:
            self._test(t_s)
        if self.plan.predict:
            for watch in self._must.values():
                watch.test_short(t_s)
        if self._freed is not None and not final:
            self._freed.predict(t_s)
        taken = self._taken() or ("no" if final else None)
        self._learn(taken)
        return self._answer(t_s, taken)

    def _test(self, t_s: float) -> None:
        for name, watch in self._watches.items():
            freed = self._freed if name == CURRENT else None
            watch.test(t_s, freed.blocks if freed is not None else None)

    def _taken(self) -> Taken | None:
        if not self._must:
            return None
        taken_out = self._freed is not None and self._freed.slope is not None
        hunts = self._speed_only_hunts(WINDOW_BLOCKS[0]) if taken_out else None
        found = self._found
        if all(w.settled or w is hunts for w in self._must.values()):
            return "yes" if found is None or not self._denied(found) else None
        if found is None or not found.ready:
            return None
        hunts = self._speed_only_hunts(SHORT_WINDOW_BLOCKS)
        others = [w for n, w in self._must.items() if n != CURRENT]
        return "predicted" if all(w.quiet or w is hunts for w in others) else None

    def _denied(self, found: Prediction) -> bool:
        """True when a model that fits says that the current will leave the tolerance after all.

        It sees the whole step, the test its last window only; near its limit the two may differ.
        """
        amps = self._watches.get(CURRENT)
        if amps is None or CURRENT not in self._must or found.misfit > BELIEVED_MISFIT:
            return False
        return abs(found.slope + found.left) > amps.tolerance().drift

    @property
    def _found(self) -> Prediction | None:
        return self._freed.prediction if self._freed is not None else None

    def _speed_only_hunts(self, blocks: int) -> ChannelWatch | None:
        """The speed's watch, when it has stayed inside its band over so many blocks."""
        speed = self._speed
        if speed is None or not speed.series.blocks:
            return None
        band = max(HUNTING_BAND * abs(speed.level()), 2.0 * speed.tolerance().drift)
        return speed if speed.swings_within(band, blocks) else None

    def _learn(self, taken: Taken | None) -> None:
        """Pass on what this step tells of the machine, once."""
        lore, found = self.plan.lore, self._found
        if taken is None or lore is None or found is None or self._learned:
            return
        self._learned = True
        lore.learn(found.two_lags, found.lag_s, found.lag_spread)

    # ---- answers ---------------------------------------------------------------------------

    def _answer(self, t_s: float, taken: Taken | None) -> HoldLook:
        looks: dict[str, ChannelLook] = {}
        for name, watch in self._watches.items():
            if not watch.readings:
                continue
            shift = self._freed.shift() if name == CURRENT and self._freed is not None else 0.0
            looks[name] = watch.report(taken, t_s, shift)
        if taken == "predicted" or (taken == "yes" and self._lag_is_told()):
            looks[CURRENT] = self._predicted(looks[CURRENT], taken)
        elif taken == "yes" and CURRENT in looks:
            looks[CURRENT] = self._doubted(looks[CURRENT])
        return HoldLook(
            t_s=t_s,
            channels=looks,
            taken=taken,
            about_s=0.0 if taken else self._about_s(t_s),
            waiting_for="" if taken in ("yes", "predicted") else waiting_for(self._watches),
            evidence=self._evidence(),
        )

    def _lag_is_told(self) -> bool:
        """True when the model fits: then it also tells what of the lag a settled value lacks.

        A model in as much doubt as the tolerance has less to say than the settled value itself.
        """
        found, amps = self._found, self._watches.get(CURRENT)
        if found is None or amps is None:
            return False
        return found.misfit <= BELIEVED_MISFIT and found.u_wide <= amps.tolerance().drift

    def _predicted(self, look: ChannelLook, taken: Taken) -> ChannelLook:
        """The current's look with the value once the lag is over in place of the measured one."""
        found, freed = self._found, self._freed
        if found is None or freed is None:
            return look
        early = taken == "predicted"
        extra = EXTRA_PART * look.tolerance if self.plan.fast or not early else 0.0
        return replace(
            look,
            state="still" if abs(found.left) <= look.tolerance else look.state,
            mean=_rounded(found.value + freed.shift()),
            u=_rounded(math.hypot(found.u if early else found.u_wide, extra)),
            dof=float(found.dof),
        )

    def _doubted(self, look: ChannelLook) -> ChannelLook:
        """A settled current, wider by what a model in doubt makes it miss: a tolerance at most."""
        found, freed = self._found, self._freed
        if found is None or freed is None:
            return look
        missed = min(abs(found.value + freed.shift() - look.mean), look.tolerance)
        return replace(look, u=_rounded(math.hypot(look.u, missed / math.sqrt(3.0))))

    def _about_s(self, t_s: float) -> float:
        wait_s = about_s(self._watches)
        if self.plan.predict and CURRENT in self._must:
            form = FAST if self.plan.fast else CAUTIOUS
            elapsed_s = t_s - self.plan.began_s
            early_s = about_predicted_s(self._watches, self._found, form, elapsed_s)
            wait_s = min(wait_s, early_s)
        left_s = self.plan.began_s + self.plan.give_up_s - t_s
        return max(min(wait_s, left_s), 0.0)

    def _evidence(self) -> dict[str, float]:
        found = self._found
        return {} if found is None else {k: _rounded(v) for k, v in found.evidence().items()}


def _rounded(value: float) -> float:
    return float(f"{value:.{DIGITS}g}")


def _watch(plan: HoldPlan, name: str) -> ChannelWatch:
    channel = plan.channels[name]
    thermal = plan.thermal and name == CURRENT
    if thermal and channel.relative > 0.0:
        relative = min(channel.relative, THERMAL_PERCENT / 100.0)
        absolute = channel.absolute * relative / channel.relative
        channel = replace(channel, relative=relative, absolute=absolute)
    return ChannelWatch(
        channel,
        began_s=plan.began_s,
        horizon_s=plan.horizon_s,
        thermal=thermal,
        lags=name == CURRENT,
    )
