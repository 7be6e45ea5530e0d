"""One channel of a hold: its readings in, its blocks and its looks out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from acquire.plain_sum import plain_sum
from acquire.settle.blocks import BLOCK_S, Block, BlockSeries
from acquire.settle.dips import DipWatch
from acquire.settle.equivalence import (
    SHORT_WINDOW_BLOCKS,
    DriftTest,
    Look,
    look_at,
)
from acquire.settle.looks import ChannelLook, Taken
from acquire.settle.repeats import UpdateWatch
from acquire.settle.spikes import SpikeGuard
from acquire.settle.tolerance import ChannelPlan, Tolerance

DRIFT_STILL_TO_COME = 0.32
"""Share of the tolerance added in quadrature to the u of a settled current.

What is left of a lag after the test has passed is of the order of the drift it allows: about as
much for a lag of 5 s, more than twice as much for one of 20 s.
"""
FILLED_AT_LEAST = 0.4
"""Share of the blocks that must hold a reading before a swing is judged."""


class ChannelWatch:
    """Filters, blocks and drift test of one channel."""

    def __init__(
        self,
        plan: ChannelPlan,
        *,
        began_s: float,
        horizon_s: float,
        thermal: bool = False,
        lags: bool = False,
    ) -> None:
        self.plan = plan
        self.look: Look | None = None
        """The newest look of the growing window."""
        self.short: Look | None = None
        """The newest look of the 5 s window."""
        self.series = BlockSeries(began_s)
        self.readings = 0
        """Readings in the blocks that are over."""
        self.rejected = 0
        """Of those, left out as spikes or bursts."""
        self.unsteady = False
        """Bursts of low values have been seen."""
        self._arrived = 0
        self._counted = 0
        self._left_out = 0
        self._horizon_s = horizon_s
        self._lags = lags  # its value may still be on the way when its drift is small
        self._guard = SpikeGuard(plan.resolution)
        self._dips = DipWatch()
        self._updates = UpdateWatch()
        self._test = DriftTest(thermal=thermal)
        self._first_s = self._last_s = began_s
        self._latest = 0.0
        self._end_s = self.series.end_s()

    @property
    def interval_s(self) -> float:
        """Mean time between values that count [s]."""
        return (self._last_s - self._first_s) / max(self._counted - 1, 1)

    def push(self, t_s: float, value: float) -> None:
        """Take a reading; ends the blocks that are over by `t_s`."""
        if t_s >= self._end_s:
            self.close_until(t_s)
        self._arrived += 1
        if not self._updates.counts(t_s, value, self.plan.resolution):
            return
        if not self._counted:
            self._first_s = t_s
        self._counted += 1
        self._last_s = t_s
        self._latest = value
        dips = self._dips
        if value < dips.gate:
            if dips.sets_aside(t_s, value):
                return
        elif dips.open:
            self._left_out += dips.comes_back(t_s, self.interval_s)
        elif value > dips.ceiling:
            dips.spikes_up += 1
        if self._guard.passes(value):
            self.series.add(value)

    def close_until(self, t_s: float) -> None:
        """End every block that is over by `t_s`, empty ones too."""
        while t_s >= self._end_s:
            series = self.series
            series.close()
            self._dips.follow(series.blocks, self.plan.resolution)
            self.unsteady = self._dips.unsteady(self._end_s)
            self._end_s = series.end_s()
            self.readings = self._arrived
            self.rejected = self._guard.rejected + self._left_out

    def finish(self, t_s: float) -> None:
        """End the block that is filling as well, short as it is, where it holds a reading."""
        self.close_until(t_s)
        if self._arrived > self.readings:
            self.close_until(self._end_s)

    def tolerance(self) -> Tolerance:
        """Drift allowed at the newest block's level."""
        allowed = self.plan.tolerance(self.level())
        return Tolerance(allowed, self.plan.resolution, self._horizon_s)

    def level(self) -> float:
        """Mean of the newest block that holds a reading; before one does, the last reading.

        In the channel's unit of measure.
        """
        for block in reversed(self.series.blocks):
            if block.count:
                return block.mean
        return self._latest

    def test(self, t_s: float, blocks: Sequence[Block] | None = None) -> None:
        """Run the growing window on the blocks so far (or on these, freed from the speed)."""
        self.look = self._test.look(
            self.series.blocks if blocks is None else blocks,
            self.tolerance(),
            t_s,
        )

    def test_short(self, t_s: float) -> None:
        """Run the 5 s window."""
        self.short = look_at(self.series.blocks, SHORT_WINDOW_BLOCKS, self.tolerance(), t_s)

    @property
    def settled(self) -> bool:
        """True when enough looks in a row have passed."""
        return self.look is not None and self.look.settled

    @property
    def quiet(self) -> bool:
        """True when settled, or when the last 5 s pass the test already."""
        return self.settled or (self.short is not None and self.short.passes)

    def swings_within(self, band: float, blocks: int) -> bool:
        """True when the last `blocks` stayed inside a band of this width: hunting, but no more."""
        means = [b.mean for b in list(self.series.blocks)[-blocks:] if b.count]
        return len(means) >= FILLED_AT_LEAST * blocks and max(means) - min(means) <= band

    @property
    def newest(self) -> Look | None:
        """The growing window's look, or the 5 s one before there is any."""
        return self.look if self.look is not None else self.short

    def lost_u(self, t_s: float) -> float:
        """Doubt for what the bursts took, as if averaged in, in the channel's unit of measure."""
        return self._dips.lost / max(t_s - self.series.began_s, 1.0)

    def value(self) -> float:
        """What the channel would be given now, in its unit of measure."""
        look = self.newest
        if look is None:
            means = self._thin_means()
            return plain_sum(means) / len(means)
        return look.end_value if look.drifts else look.mean

    def report(self, taken: Taken | None, t_s: float, shift: float = 0.0) -> ChannelLook:
        """What the step would be given now; `shift` puts back what the speed took out."""
        look = self.newest
        if look is None:
            return self._thin()
        if taken == "no":
            part = (abs(look.drift) + look.half_width) / math.sqrt(3.0)
        else:
            part = DRIFT_STILL_TO_COME * look.tolerance if self._lags else 0.0
        u = look.u_end if look.drifts else look.u_mean
        return ChannelLook(
            state=look.state,
            drift=look.drift,
            half_width=look.half_width,
            tolerance=look.tolerance,
            mean=self.value() + shift,
            u=math.hypot(u, part, self.lost_u(t_s)),
            dof=float(look.dof),
            window_s=look.window_s,
            readings=self.readings,
            rejected=self.rejected,
            unsteady=self.unsteady,
        )

    def _thin_means(self) -> list[float]:
        means = [b.mean for b in self.series.blocks if b.count][-SHORT_WINDOW_BLOCKS:]
        return means or [self._latest]

    def _thin(self) -> ChannelLook:
        """Readings, but no window yet: their middle, with all their range as doubt."""
        means = self._thin_means()
        tolerance = self.plan.tolerance(means[-1])
        spread = max(means) - min(means)
        return ChannelLook(
            state="waiting",
            drift=0.0,
            half_width=math.inf,
            tolerance=tolerance,
            mean=self.value(),
            u=max(spread, 2.0 * tolerance) / math.sqrt(3.0),
            dof=float(max(len(means) - 1, 1)),
            window_s=len(means) * BLOCK_S,
            readings=self.readings,
            rejected=self.rejected,
            unsteady=self.unsteady,
        )
