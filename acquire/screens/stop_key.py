"""The stop key, seen in the thread that reads the keyboard: no page and no event loop is needed.

A page may hang, an event loop may be busy; the space bar still reaches the stop path.
"""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable

from textual import events
from textual.driver import Driver
from textual.message import Message


def stops_first(driver_class: type[Driver], stop: Callable[[str], bool]) -> type[Driver]:
    """The same driver; `stop` is told of each key before it goes anywhere."""

    class StopsFirst(driver_class):  # type: ignore[misc, valid-type]
        """Sees the stop key first; leaves the suspend signal to the signal watch."""

        def __init__(self, *given: object, **named: object) -> None:
            watched = _suspend_handler()
            super().__init__(*given, **named)
            if sys.platform != "win32" and watched is not None:
                signal.signal(signal.SIGTSTP, watched)

        def process_message(self, message: Message) -> None:
            if isinstance(message, events.Key):
                stop(message.key)
            super().process_message(message)

    return StopsFirst


def _suspend_handler() -> Callable[..., object] | None:
    """Whoever watches SIGTSTP now: the toolkit would suspend at once, with the rig turning."""
    if sys.platform == "win32":
        return None
    handler = signal.getsignal(signal.SIGTSTP)
    return handler if callable(handler) else None
