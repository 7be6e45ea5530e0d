"""Readings on their way from the ports to their one consumer; bounded, and every loss counted."""

from __future__ import annotations

import threading
from collections import deque

from drivers.readings import Reading


class ReadingQueue:
    """Many producers, one consumer; the oldest reading goes first when it is full."""

    def __init__(self, longest: int = 20_000) -> None:
        if longest < 1:
            raise ValueError(f"a queue holds at least one reading, not {longest}")
        self._longest = longest
        self._waiting: deque[Reading] = deque()
        self._latest: dict[str, Reading] = {}
        self._dropped = 0
        self._arrived = threading.Condition()

    def put(self, reading: Reading) -> None:
        """Add a reading; never blocks."""
        with self._arrived:
            if len(self._waiting) >= self._longest:
                self._waiting.popleft()
                self._dropped += 1
            self._waiting.append(reading)
            self._latest[reading.channel] = reading
            self._arrived.notify_all()

    def take(self, wait_s: float = 0.0) -> list[Reading]:
        """All readings waiting, oldest first; waits up to `wait_s` wall seconds for the first."""
        with self._arrived:
            if not self._waiting and wait_s > 0:
                self._arrived.wait_for(lambda: bool(self._waiting), wait_s)
            readings = list(self._waiting)
            self._waiting.clear()
            return readings

    def wait_for_new(self, wait_s: float) -> None:
        """Wait until another reading arrives, at most `wait_s` wall seconds; takes nothing."""
        with self._arrived:
            self._arrived.wait(wait_s)

    def latest(self, channel: str) -> Reading | None:
        """The newest reading of `channel`, whatever its quality."""
        with self._arrived:
            return self._latest.get(channel)

    @property
    def dropped(self) -> int:
        """Readings lost because nobody took them in time."""
        with self._arrived:
            return self._dropped
