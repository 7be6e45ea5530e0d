"""A pseudo-terminal that looks like a serial port to the program (POSIX only)."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from pathlib import Path

if sys.platform == "win32":
    raise ImportError("Windows has no pseudo-terminals: a simulated rig is served on sockets there")

import pty
import tty


class TerminalPort:
    """The far end of a serial line.

    `address` is a link that keeps its name while the device behind it goes and comes back, as a
    port named by its place does when a cable is pulled and put back.
    """

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="line-")
        self._link = Path(self._folder.name) / "port"
        self._ends: tuple[int, int] | None = None
        self._rest = b""
        """Of a message longer than the line takes at once, what is still to be sent."""
        self._plug_in()

    @property
    def address(self) -> str:
        """What the program opens."""
        return str(self._link)

    def _plug_in(self) -> None:
        far, near = self._ends = pty.openpty()
        tty.setraw(near)
        os.set_blocking(far, False)
        self._link.unlink(missing_ok=True)
        self._link.symlink_to(os.ttyname(near))

    def _pull_out(self) -> None:
        ends, self._ends = self._ends, None
        self._rest = b""
        self._link.unlink(missing_ok=True)
        for end in ends or ():
            with contextlib.suppress(OSError):
                os.close(end)

    def watched(self) -> list[int]:
        """The far end, while it is plugged in; sends on what is left of a long message."""
        if self._rest:
            self._send(self._rest)
        return [] if self._ends is None else [self._ends[0]]

    def read(self) -> bytes:
        """What the program sent."""
        if self._ends is not None:
            with contextlib.suppress(OSError):
                return os.read(self._ends[0], 4096)
        return b""

    def write(self, data: bytes) -> None:
        """Send; what nobody reads is lost, as on a line without a listener."""
        if self._ends is not None and not self._rest:
            self._send(data)

    def _send(self, data: bytes) -> None:
        if self._ends is not None:
            with contextlib.suppress(OSError):
                self._rest = data[os.write(self._ends[0], data) :]

    def unplug(self, out: bool) -> None:
        """The device vanishes, or is there again."""
        if out:
            self._pull_out()
        elif self._ends is None:
            self._plug_in()

    def close(self) -> None:
        """Give the device and its name up; harmless when done already."""
        self._pull_out()
        self._folder.cleanup()
