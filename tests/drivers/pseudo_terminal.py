"""Two pseudo-terminals joined back to back: a serial cable for tests (POSIX only)."""

from __future__ import annotations

import contextlib
import os
import select
import threading
from collections.abc import Iterator

import pytest


class Cable:
    """`ours` and `theirs` are the names of its two ends; `cut` pulls it out."""

    def __init__(self) -> None:
        self._handles = [os.openpty(), os.openpty()]
        for _, terminal in self._handles:
            _make_raw(terminal)
        self.ours, self.theirs = (os.ttyname(terminal) for _, terminal in self._handles)
        self._open = True
        self._thread = threading.Thread(target=self._carry, daemon=True)
        self._thread.start()

    def _carry(self) -> None:
        (ours, _), (theirs, _) = self._handles
        while self._open:
            for handle in select.select([ours, theirs], [], [], 0.05)[0]:
                with contextlib.suppress(OSError):
                    os.write(theirs if handle == ours else ours, os.read(handle, 4096))

    def cut(self) -> None:
        """End of the cable: both terminals go away, as an unplugged adapter does."""
        if self._open:
            self._open = False
            self._thread.join(2.0)
            for controller, terminal in self._handles:
                os.close(controller)
                os.close(terminal)


def _make_raw(terminal: int) -> None:
    import tty

    tty.setraw(terminal)


@contextlib.contextmanager
def cable() -> Iterator[Cable]:
    """A cable, or a skip where the system has no pseudo-terminals."""
    if not hasattr(os, "openpty"):
        pytest.skip("this system has no pseudo-terminals; sockets cover the rest")
    joined = Cable()
    try:
        yield joined
    finally:
        joined.cut()
