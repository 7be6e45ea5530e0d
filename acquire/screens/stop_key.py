"""The stop key, seen in the thread that reads the keyboard: no page and no event loop is needed.

A page may hang, an event loop may be busy; the space bar still reaches the stop path. A terminal
that is gone holds nobody up: what is written to it is thrown away.
"""

from __future__ import annotations

import contextlib
import os
import signal
import sys
from collections.abc import Callable
from typing import IO

from textual import events
from textual.driver import Driver
from textual.message import Message

SUSPEND_KEY = "ctrl+z"


class TerminalOrNone:
    """Writes to a terminal while there is one.

    The toolkit's writer would die of the first error; its queue would then fill, and whoever puts
    into it wait for ever.
    """

    def __init__(self, file: IO[str]) -> None:
        self._file = file

    def write(self, text: str) -> None:
        """Write, or throw away."""
        with contextlib.suppress(OSError, ValueError):  # ValueError: it is closed
            self._file.write(text)

    def flush(self) -> None:
        """The same for what waits to be written."""
        with contextlib.suppress(OSError, ValueError):
            self._file.flush()

    def fileno(self) -> int:
        """As the terminal's own."""
        return self._file.fileno()


def stops_first(driver_class: type[Driver], stop: Callable[[str], bool]) -> type[Driver]:
    """The same driver; `stop` is told of each key before it goes anywhere."""

    class StopsFirst(driver_class):  # type: ignore[misc, valid-type]
        """Sees the stop key first; leaves the suspend signal to the signal watch."""

        def __init__(self, *given: object, **named: object) -> None:
            watched = _suspend_handler()
            super().__init__(*given, **named)
            if sys.platform != "win32" and watched is not None:
                signal.signal(signal.SIGTSTP, watched)
            terminal: IO[str] | None = getattr(self, "_file", None)
            if terminal is not None:
                self._file: object = TerminalOrNone(terminal)

        def process_message(self, message: Message) -> None:
            if isinstance(message, events.Key):
                stop(message.key)
                if message.key == SUSPEND_KEY:
                    ask_to_suspend()
            super().process_message(message)

        def _sigcont_application(self, *_ignored: object) -> None:
            """Go on, where it was us who gave the terminal back; else the screen is drawn anew.

            The toolkit would start a second writer and a second reader of the keyboard.
            """
            if getattr(self, "_must_signal_resume", True):
                super()._sigcont_application()
            else:
                self._app.refresh(layout=True)

    return StopsFirst


def ask_to_suspend() -> None:
    """Ctrl-Z on the keyboard: the same as its signal, which stops the rig first.

    Nothing where no shell waits that could wake the program again.
    """
    if sys.platform != "win32" and _suspend_handler() is not None and shell_waits():
        os.kill(os.getpid(), signal.SIGTSTP)


def shell_waits() -> bool:
    """True where the program was started by a shell that takes the terminal back (POSIX).

    Else its process group is orphaned (POSIX.1-2017, 3.264) and a suspended program is lost.
    """
    if sys.platform == "win32":
        return False
    parent = os.getppid()
    try:
        same_session = os.getsid(parent) == os.getsid(0)
        return same_session and os.getpgid(parent) != os.getpgrp()
    except OSError:  # another user's, or gone
        return False


def _suspend_handler() -> Callable[..., object] | None:
    """Whoever watches SIGTSTP now: the toolkit would suspend at once, with the rig turning."""
    if sys.platform == "win32":
        return None
    handler = signal.getsignal(signal.SIGTSTP)
    return handler if callable(handler) else None
