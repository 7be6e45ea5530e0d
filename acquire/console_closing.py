"""Windows: closing the console, logging off and shutting down bring the rig to rest first.

The system calls a handler of ours in a thread of its own, and ends the program as soon as that
handler returns; so it returns only when the rig is at rest and the run is sealed, or time is up.
The system has a limit of its own, about 5 s (Microsoft, "HandlerRoutine callback function"): the
drive is told to stop in the first instant, a run that could not be sealed goes on with `resume`.
Ctrl-C and Ctrl-Break come as signals (`signal_watch`).
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from typing import Protocol

CLOSING = {
    2: "CTRL_CLOSE",
    5: "CTRL_LOGOFF",
    6: "CTRL_SHUTDOWN",
}
"""Number of the event -> its name; `signal_watch` has the words for it."""
HOLD_S = 30.0
"""Longer than the system waits, so that the system decides; a handler never hangs for ever."""


class Console(Protocol):
    """The one call of the operating system that is needed."""

    def set_handler(self, handler: Callable[[int], int], *, added: bool) -> bool:
        """Add or remove a handler; False when the system will not."""
        ...


class ConsoleClosing:
    """From `begin` to `end` each of these events calls `on_stop`, and waits for `end`."""

    def __init__(
        self,
        on_stop: Callable[[str], None],
        *,
        console: Console | None = None,
        hold_s: float = HOLD_S,
    ) -> None:
        self._on_stop = on_stop
        self._console = console
        self._hold_s = hold_s
        self._ended = threading.Event()
        self._added = False

    def begin(self) -> None:
        """Listen. A program without a console hears nothing, and cannot lose one either."""
        if self._console is None:
            self._console = windows_console()
        self._added = self._console.set_handler(self._heard, added=True)

    def end(self) -> None:
        """All is at rest: let a waiting handler go, and listen no more."""
        self._ended.set()
        if self._added and self._console is not None:
            self._console.set_handler(self._heard, added=False)
            self._added = False

    def _heard(self, event: int) -> int:
        """Called by the system, in its thread; 1 says that it was dealt with."""
        name = CLOSING.get(event)
        if name is None:
            return 0
        self._on_stop(name)
        self._ended.wait(self._hold_s)
        return 1


def windows_console() -> Console:
    """The console of Windows. Not run on the real system by the tests.

    Raises:
        RuntimeError: On another system.
    """
    if sys.platform != "win32":
        raise RuntimeError("only Windows has such a console")
    import ctypes

    class _WindowsConsole:
        """Keeps the handler it was given: the system holds a bare pointer to it."""

        def __init__(self) -> None:
            self._kind = ctypes.WINFUNCTYPE(ctypes.c_int, ctypes.c_uint)
            self._kept: object = None

        def set_handler(self, handler: Callable[[int], int], *, added: bool) -> bool:
            call = ctypes.windll.kernel32.SetConsoleCtrlHandler
            if added:
                self._kept = self._kind(handler)
            return bool(call(self._kept, int(added)))

    return _WindowsConsole()
