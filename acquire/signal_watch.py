"""Signals reach the stop path without the main thread: a wake-up descriptor and its own thread.

POSIX: SIGINT, SIGTERM, SIGHUP, SIGQUIT (Ctrl-\\) and SIGTSTP (Ctrl-Z: stop first, then suspend).
Windows: Ctrl-C and Ctrl-Break as signals, closing of the console through a handler that waits
(`console_closing`).
"""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import sys
import threading
from collections.abc import Callable
from types import FrameType, TracebackType
from typing import TYPE_CHECKING, Any, Self

if TYPE_CHECKING:
    from acquire.console_closing import ConsoleClosing

NAMES = ("SIGINT", "SIGTERM", "SIGHUP", "SIGQUIT", "SIGTSTP", "SIGBREAK")

WORDS = {
    "SIGINT": "Ctrl-C was pressed",
    "SIGTERM": "the computer told the program to end",
    "SIGHUP": "the terminal was closed, or its connection was lost",
    "SIGQUIT": "Ctrl-\\ was pressed",
    "SIGTSTP": "Ctrl-Z was pressed",
    "SIGBREAK": "Ctrl-Break was pressed",
    "CTRL_CLOSE": "the window of the program was closed",
    "CTRL_LOGOFF": "the user was logged off",
    "CTRL_SHUTDOWN": "the computer was shut down",
}
"""What has happened, for the operator and the record."""


def happened(name: str) -> str:
    """What a signal or an event of the console means, in words."""
    return WORDS.get(name, f"{name} was received")


def watched_signals() -> dict[int, str]:
    """Number -> name of the signals this system has."""
    return {int(getattr(signal, name)): name for name in NAMES if hasattr(signal, name)}


class SignalWatch:
    """While entered, each of the watched signals calls `on_stop` from a thread of its own.

    It is given the signal's name; `happened` has the words for it.

    `on_suspended` is called after `on_stop` for SIGTSTP; it should suspend the process.
    Enter it from the main thread (only there may handlers be set).
    """

    def __init__(
        self, on_stop: Callable[[str], None], *, on_suspend: Callable[[], None] | None = None
    ) -> None:
        self._on_stop = on_stop
        self._on_suspend = on_suspend
        self._before: dict[int, Any] = {}
        self._read, self._write = socket.socketpair()
        self._write.setblocking(False)
        self._wakeup_before = -1
        self._console: ConsoleClosing | None = None
        self._thread = threading.Thread(target=self._listen, name="signal watch", daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        self._wakeup_before = signal.set_wakeup_fd(self._write.fileno(), warn_on_full_buffer=False)
        for number in watched_signals():
            self._before[number] = signal.signal(number, _heard)
        if sys.platform == "win32":
            from acquire.console_closing import ConsoleClosing

            self._console = ConsoleClosing(self._on_stop)
            self._console.begin()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._console is not None:
            self._console.end()
        for number, handler in self._before.items():
            signal.signal(number, handler)
        signal.set_wakeup_fd(self._wakeup_before)
        with contextlib.suppress(OSError):
            self._write.shutdown(socket.SHUT_RDWR)
        self._thread.join(2.0)
        self._write.close()
        self._read.close()

    def _listen(self) -> None:
        names = watched_signals()
        while True:
            try:
                numbers = self._read.recv(64)
            except OSError:
                return
            if not numbers:
                return
            for number in numbers:
                name = names.get(number)
                if name is not None:
                    self._on_stop(name)
                if name == "SIGTSTP" and self._on_suspend is not None:
                    self._on_suspend()


def _heard(_number: int, _frame: FrameType | None) -> None:
    """Nothing: the wake-up descriptor has carried the signal already."""


def suspend_now() -> None:
    """Suspend this process, as Ctrl-Z would have done (POSIX)."""
    if sys.platform != "win32":
        os.kill(os.getpid(), signal.SIGSTOP)
