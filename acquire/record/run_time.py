"""Time in a run: seconds from its start, the same in samples, journal and sweep."""

from __future__ import annotations

from drivers.clock import Clock
from drivers.readings import Reading

DECIMALS = 6


class RunTime:
    """Turns the clock's monotonic seconds into seconds from the start of the run.

    Rounded to microseconds once, here: samples.csv, the journal and the sweep then hold the very
    same float, so that a replay decides the same.
    """

    def __init__(self, clock: Clock, *, already_s: float = 0.0) -> None:
        self.clock = clock
        self._zero_s = clock.monotonic_s() - already_s

    def of(self, monotonic_s: float) -> float:
        """Seconds from the start of the run [s]."""
        return round(monotonic_s - self._zero_s, DECIMALS)

    def now_s(self) -> float:
        """Seconds from the start of the run, now [s]."""
        return self.of(self.clock.monotonic_s())

    def reading(self, reading: Reading) -> Reading:
        """The same reading, its time from the start of the run."""
        t_s = self.of(reading.t_s)
        return Reading(reading.channel, t_s, *reading[2:])
