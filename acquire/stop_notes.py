"""What the stop path did, on its way to the journal: a disk that hangs must not hold up a stop."""

from __future__ import annotations

import threading
from collections.abc import Callable
from queue import SimpleQueue
from typing import Generic, TypeVar

T = TypeVar("T")


class StopNotes(Generic[T]):
    """Hands events on, in order, from a daemon thread of its own."""

    def __init__(self, note: Callable[[T], None], *, failed: Callable[[T], None]) -> None:
        """`failed` is told of an event for which `note` raised."""
        self._note, self._failed = note, failed
        self._events: SimpleQueue[T | None] = SimpleQueue()
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._run, name="stop notes", daemon=True)

    def start(self) -> None:
        """Begin; events may be added before."""
        self._thread.start()

    def add(self, event: T) -> None:
        """Take an event; returns at once."""
        self._events.put(event)

    def finish(self, wait_s: float) -> bool:
        """No more events; True when all were handed on within `wait_s` wall seconds."""
        self._events.put(None)
        return self._done.wait(wait_s)

    def _run(self) -> None:
        while (event := self._events.get()) is not None:
            try:
                self._note(event)
            except Exception:  # noqa: BLE001 - the journal may be what failed; stopping comes first
                self._failed(event)
        self._done.set()
