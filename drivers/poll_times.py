"""When each question is due: at its own rate, never caught up in a burst."""

from __future__ import annotations

from collections.abc import Sequence

from drivers.port_driver import Poll
from drivers.statistics import PortStatistics

_NOTHING_DUE_S = 3600.0


class PollTimes:
    """Due times in wall seconds; a clock that runs `pace` times as fast asks as much oftener."""

    def __init__(self, polls: Sequence[Poll], pace: float) -> None:
        self._polls = list(polls)
        self._every_s = [poll.every_s / pace for poll in self._polls]
        self._due_s = [0.0] * len(self._polls)

    def restart(self, now_s: float) -> None:
        """Everything is due now."""
        self._due_s = [now_s] * len(self._polls)

    def wait_s(self, now_s: float) -> float:
        """How long until the next question is due; 0 or less when one is [s]."""
        return min(self._due_s) - now_s if self._due_s else _NOTHING_DUE_S

    def take(self, now_s: float, statistics: PortStatistics) -> Poll:
        """The question that has been due longest; ticks that were missed are counted."""
        index = min(range(len(self._polls)), key=self._due_s.__getitem__)
        every_s = self._every_s[index]
        missed = int((now_s - self._due_s[index]) / every_s)
        statistics.skipped += missed
        self._due_s[index] += (missed + 1) * every_s
        return self._polls[index]
