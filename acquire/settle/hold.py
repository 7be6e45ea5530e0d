"""What one step waits for: all channels together, from one speed command to the next.

A step is settled when every channel that must hold still is (intersection-union test: each at
95 %, no further correction; Berger, Technometrics 24, 1982, 295-300). A hold knows reading times
only, no clock: the same readings give the same answer, however they were handed over.
"""

from __future__ import annotations

import math
from dataclasses import replace

from acquire.settle.blocks import BLOCK_S, Block
from acquire.settle.channel_watch import ChannelWatch
from acquire.settle.equivalence import LOOK_BLOCKS, LOOKS_IN_A_ROW, WINDOW_BLOCKS, State
from acquire.settle.looks import CURRENT, SPEED, ChannelLook, HoldLook, HoldPlan, Taken
from acquire.settle.tolerance import THERMAL_PERCENT, ChannelPlan

__all__ = ["ChannelLook", "ChannelPlan", "Hold", "HoldLook", "HoldPlan", "State", "Taken"]

LATE_S = 0.25
"""So long a look waits for channels whose reading is still on its way [s]."""


class Hold:
    """Watches all channels of one step."""

    def __init__(self, plan: HoldPlan) -> None:
        self.plan = plan
        self._watches = {name: _watch(plan, name) for name in plan.channels}
        self._must = [w for n, w in self._watches.items() if plan.channels[n].must_hold]
        self._looks = 0
        self._due_s = plan.began_s + BLOCK_S
        self._freed: list[Block] = []
        self._last_deviation = 0.0

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
            watch.close_until(t_s)
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
        return all(watch.series.closed > self._looks for watch in self._must)

    def _look(self, t_s: float, *, final: bool = False) -> HoldLook:
        self._looks += 1
        self._free_current()
        if final or self._looks % LOOK_BLOCKS == 0:
            for name, watch in self._watches.items():
                watch.test(t_s, self._freed if name == CURRENT and self._freed else None)
        taken: Taken | None = None
        if self._must and all(watch.settled for watch in self._must):
            taken = "yes"
        elif final:
            taken = "no"
        return self._answer(t_s, taken)

    def _answer(self, t_s: float, taken: Taken | None) -> HoldLook:
        seen = {name: w for name, w in self._watches.items() if w.readings}
        looks = {name: watch.report(taken, self._shift(name)) for name, watch in seen.items()}
        return HoldLook(
            t_s=t_s,
            channels=looks,
            taken=taken,
            about_s=0.0 if taken else self._about_s(t_s),
            waiting_for="" if taken == "yes" else self._waiting_for(),
        )

    def _waiting_for(self) -> str:
        """The channel farthest from settled: silent ones first, then by drift over tolerance."""
        worst, worst_by = "", -math.inf
        for name, watch in self._watches.items():
            if not watch.plan.must_hold or watch.settled:
                continue
            by = math.inf
            if watch.look is not None:
                reach = abs(watch.look.drift) + watch.look.half_width
                by = reach / max(watch.look.tolerance, 1e-12)
            if by > worst_by:
                worst, worst_by = name, by
        return worst

    def _about_s(self, t_s: float) -> float | None:
        """A rough estimate of the wait still to come [s]."""
        longest = 0.0
        for watch in self._must:
            if watch.settled:
                continue
            if watch.look is None:
                filled_s = watch.series.closed * BLOCK_S
                needed_s = WINDOW_BLOCKS[0] * BLOCK_S + LOOKS_IN_A_ROW
                longest = max(longest, needed_s - filled_s, 1.0)
            else:
                longest = max(longest, _wait_s(watch))
        left_s = self.plan.began_s + self.plan.give_up_s - t_s
        return max(min(longest, left_s), 0.0)

    # ---- speed taken out of the current ----------------------------------------------------

    def _free_current(self) -> None:
        """Add the newest block of the current, freed from what the hunting speed does to it."""
        slope = self.plan.slope_amps_per_rpm
        speed, amps = self._watches.get(SPEED), self._watches.get(CURRENT)
        if slope is None or speed is None or amps is None:
            return
        while len(self._freed) < amps.series.closed:
            behind = amps.series.closed - len(self._freed)
            block = amps.series.blocks[-behind]
            if behind <= len(speed.series.blocks) and speed.series.blocks[-behind].count:
                self._last_deviation = speed.series.blocks[-behind].mean - self.plan.set_rpm
            self._freed.append(replace(block, mean=block.mean - slope * self._last_deviation))

    def _shift(self, name: str) -> float:
        """What to add to the freed current to have it at the speed that is reported."""
        slope, speed = self.plan.slope_amps_per_rpm, self._watches.get(SPEED)
        if name != CURRENT or slope is None or speed is None or not self._freed:
            return 0.0
        reported = speed.look.end_value if speed.look is not None else speed.level()
        return slope * (reported - self.plan.set_rpm)


def _watch(plan: HoldPlan, name: str) -> ChannelWatch:
    channel = plan.channels[name]
    thermal = plan.thermal and name == CURRENT
    if thermal:
        relative = min(channel.relative, THERMAL_PERCENT / 100.0)
        absolute = channel.absolute * relative / channel.relative if channel.relative else 0.0
        channel = ChannelPlan(relative, absolute, channel.resolution, channel.must_hold)
    return ChannelWatch(channel, began_s=plan.began_s, horizon_s=plan.horizon_s, thermal=thermal)


def _wait_s(watch: ChannelWatch) -> float:
    """Wait for one channel: its looks in a row, a longer window, or its lag."""
    look = watch.look
    if look is None or look.passes:
        return float(LOOKS_IN_A_ROW - (look.in_a_row if look else 0))
    reach = (abs(look.drift) + look.half_width) / max(look.tolerance, 1e-12)
    if abs(look.drift) > look.half_width:
        # As if the drift fell by half every five seconds: half the window's own length.
        return 5.0 * math.log2(max(reach, 2.0)) + LOOKS_IN_A_ROW
    longer_s = look.window_s * math.pow(reach, 2.0 / 3.0)
    return max(longer_s - look.window_s, 0.0) + LOOKS_IN_A_ROW
