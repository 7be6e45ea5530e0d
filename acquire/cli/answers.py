"""What the operator types in plain mode, read without ever blocking the rest."""

from __future__ import annotations

import os
import queue
import sys
import threading
from collections import deque
from collections.abc import Collection


class Answers:
    """Lines from standard input, collected by a thread of its own.

    The thread reads the descriptor itself: a thread that waits inside `sys.stdin` would hold its
    lock when the program ends.
    """

    def __init__(self, descriptor: int | None = None) -> None:
        self._descriptor = sys.stdin.fileno() if descriptor is None else descriptor
        self._encoding = _encoding(self._descriptor)
        self._by_hand = os.isatty(self._descriptor)
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._early: deque[str | None] = deque()
        """Typed before it was asked for."""
        self._ended = False
        self._thread = threading.Thread(target=self._collect, name="answers", daemon=True)
        self._thread.start()

    def next(self, wait_s: float) -> str | None:
        """The next line without its end, or None when none came in time (see `ended`)."""
        try:
            line = self._early.popleft() if self._early else self._lines.get(timeout=wait_s)
        except queue.Empty:
            return None
        if line is None:
            self._ended = True
        return line

    def heard(self, words: Collection[str]) -> str | None:
        """One of these words, where it was typed though nothing is asked; all else stays.

        From a pipe, where answers may lie ready for later questions, only as the next line.
        """
        while not self._lines.empty():
            self._early.append(self._lines.get())
        looked_at = list(self._early) if self._by_hand else list(self._early)[:1]
        for line in looked_at:
            if line is not None and line.lower() in words:
                self._early.remove(line)
                return line
        return None

    @property
    def by_hand(self) -> bool:
        """True where somebody types at a terminal; False where the answers lie ready in a pipe."""
        return self._by_hand

    @property
    def ended(self) -> bool:
        """True when nobody can answer any more."""
        return self._ended

    def _collect(self) -> None:
        held = b""
        while True:
            try:
                data = os.read(self._descriptor, 4096)
            except OSError:
                data = b""
            if not data:
                break
            *lines, held = (held + data).split(b"\n")
            for line in lines:
                self._lines.put(line.decode(self._encoding, "replace").strip())
        if held.strip():
            self._lines.put(held.decode(self._encoding, "replace").strip())
        self._lines.put(None)


def _encoding(descriptor: int) -> str:
    """A Windows console gives what is typed in its own code page."""
    typed = os.device_encoding(descriptor) if sys.platform == "win32" else None
    return typed or "utf-8"
