"""A pseudo-terminal that looks like a serial port to the program (POSIX only)."""

from __future__ import annotations

import contextlib
import os
import pty
import select
import tty


class TerminalPort:
    """Reads and writes the far end; `address` is the device to open."""

    def __init__(self) -> None:
        self._far, self._near = pty.openpty()
        tty.setraw(self._near)
        os.set_blocking(self._far, False)
        self.address = os.ttyname(self._near)
        self.unplugged = False

    def read(self, wait_s: float) -> bytes:
        """Bytes from the program; empty when none came within `wait_s` wall seconds."""
        ready, _, _ = select.select([self._far], [], [], wait_s)
        data = b""
        if ready:
            with contextlib.suppress(OSError):
                data = os.read(self._far, 4096)
        return b"" if self.unplugged else data

    def write(self, data: bytes) -> None:
        """Send; what nobody reads is lost, as on a line without a listener."""
        if not self.unplugged:
            with contextlib.suppress(OSError):
                os.write(self._far, data)

    def unplug(self, out: bool) -> None:
        """The line goes dead, or lives again. (A device that vanishes is tried with real ports.)"""
        self.unplugged = out

    def close(self) -> None:
        """Give both ends up."""
        for end in (self._far, self._near):
            with contextlib.suppress(OSError):
                os.close(end)
