"""Readings on their way from the ports to their one consumer; bounded, and every loss counted."""

from __future__ import annotations

import threading
from collections.abc import Callable
from queue import Empty, SimpleQueue

from drivers.readings import Reading


class ReadingQueue:
    """Many producers, one consumer; the oldest reading goes first when it is full.

    The way of a reading costs no lock of ours: at a thousand readings a second the waking of the
    consumer is most of what they cost, and `SimpleQueue` wakes it in a third of the time that a
    `Condition` takes.
    """

    def __init__(self, longest: int = 20_000) -> None:
        if longest < 1:
            raise ValueError(f"a queue holds at least one reading, not {longest}")
        self._longest = longest
        self._waiting: SimpleQueue[Reading] = SimpleQueue()
        self._latest: dict[str, Reading] = {}
        self._dropped = 0
        self._full = threading.Lock()
        self._see: Callable[[Reading], None] | None = None
        self._onlookers = 0
        self._arrived = threading.Condition()

    def watched_by(self, see: Callable[[Reading], None]) -> None:
        """From now on `see` is shown each reading first, in the thread that puts it in.

        There is one watcher, the last; it must not raise, and not wait.
        """
        self._see = see

    def put(self, reading: Reading) -> None:
        """Add a reading; never blocks."""
        if self._see is not None:
            self._see(reading)
        if self._waiting.qsize() >= self._longest:
            self._make_room()
        self._latest[reading.channel] = reading
        self._waiting.put(reading)
        if self._onlookers:
            with self._arrived:
                self._arrived.notify_all()

    def _make_room(self) -> None:
        with self._full:
            while self._waiting.qsize() >= self._longest:
                try:
                    self._waiting.get_nowait()
                except Empty:
                    return
                self._dropped += 1

    def take(self, wait_s: float = 0.0) -> list[Reading]:
        """All readings waiting, oldest first; waits up to `wait_s` wall seconds for the first."""
        waiting = self._waiting
        readings: list[Reading] = []
        try:
            if wait_s > 0:
                readings.append(waiting.get(timeout=wait_s))
            for _ in range(waiting.qsize()):
                readings.append(waiting.get_nowait())  # noqa: PERF401  kept when one is gone
        except Empty:
            pass
        return readings

    def wait_for_new(self, wait_s: float) -> None:
        """Wait until another reading arrives, at most `wait_s` wall seconds; takes nothing."""
        with self._arrived:
            self._onlookers += 1
            try:
                self._arrived.wait(wait_s)
            finally:
                self._onlookers -= 1

    def latest(self, channel: str) -> Reading | None:
        """The newest reading of `channel`, whatever its quality."""
        return self._latest.get(channel)

    @property
    def dropped(self) -> int:
        """Readings lost because nobody took them in time."""
        return self._dropped
