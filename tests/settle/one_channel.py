"""The drift test on one channel alone, without the rest of a hold."""

from __future__ import annotations

from acquire.settle.blocks import BlockSeries
from acquire.settle.equivalence import LOOK_BLOCKS, DriftTest, Look
from acquire.settle.spikes import SpikeGuard
from acquire.settle.tolerance import Tolerance


class OneChannel:
    """Readings in, a look each second out."""

    def __init__(self, tolerance: Tolerance, *, began_s: float, thermal: bool = False) -> None:
        self.tolerance = tolerance
        self._guard = SpikeGuard(tolerance.resolution)
        self._series = BlockSeries(began_s)
        self._test = DriftTest(thermal=thermal)

    @property
    def rejected(self) -> int:
        """Readings left out as spikes."""
        return self._guard.rejected

    def restart(self, t_s: float) -> None:
        """Forget all: a speed command went out at `t_s`."""
        self._guard.restart()
        self._series.restart(t_s)
        self._test.restart()

    def push(self, t_s: float, value: float) -> Look | None:
        """Take a reading; the newest look when this reading ended a second, else None."""
        series = self._series
        found: Look | None = None
        while t_s >= series.end_s():
            end_s = series.end_s()
            series.close()
            if series.closed % LOOK_BLOCKS == 0:
                found = self._test.look(series.blocks, self.tolerance, end_s)
        if self._guard.passes(value):
            series.add(value)
        return found
