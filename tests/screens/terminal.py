"""The program in a pseudo-terminal, its screen kept by an emulator from outside the project."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Mapping
from pathlib import Path

import pyte

CHECKOUT = Path(__file__).parent.parent.parent
START = "import sys; from acquire.cli.main import run; sys.exit(run(sys.argv[1:]))"


class Terminal:
    """A program on a pseudo-terminal; use as a context."""

    def __init__(
        self, *arguments: str, width: int = 80, height: int = 24, code: str = START,
        environment: Mapping[str, str] | None = None,
    ) -> None:  # fmt: skip
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", height, width, 0, 0))
        self.before = termios.tcgetattr(slave)
        self._slave = slave
        self.screen = pyte.Screen(width, height)
        self._stream = pyte.ByteStream(self.screen)
        self.received = b""
        self.process = subprocess.Popen(
            [sys.executable, "-W", "error::DeprecationWarning:acquire", "-c", code, *arguments],
            stdin=slave, stdout=slave, stderr=slave, cwd=CHECKOUT, start_new_session=True,
            preexec_fn=_take_terminal,
            env={**os.environ, "TERM": "xterm-256color", "LANG": "C.UTF-8", **(environment or {})},
        )  # fmt: skip

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, *_ignored: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        self.hang_up()
        os.close(self._slave)

    def read(self, for_s: float = 0.05) -> None:
        """Take what the program draws."""
        if self._master < 0:
            time.sleep(for_s)
            return
        ready, _, _ = select.select([self._master], [], [], for_s)
        if not ready:
            return
        try:
            data = os.read(self._master, 65536)
        except OSError:
            data = b""
        self.received += data
        self._stream.feed(data)

    def press(self, keys: str) -> None:
        """Type keys as a keyboard sends them."""
        os.write(self._master, keys.encode())

    @property
    def lines(self) -> list[str]:
        """The screen as it is now."""
        return [line.rstrip() for line in self.screen.display]

    @property
    def text(self) -> str:
        """The screen as one text."""
        return "\n".join(self.lines)

    def wait_for(self, what: str | Callable[[str], bool], within_s: float = 20.0) -> str:
        """Read until the screen holds a text; the screen."""
        until_s = time.monotonic() + within_s
        while time.monotonic() < until_s:
            self.read()
            found = what in self.text if isinstance(what, str) else what(self.text)
            if found:
                self._rest_of_the_picture()
                return self.text
            if self.process.poll() is not None:
                self.read(0.2)
                break
        raise AssertionError(f"{what!r} did not come within {within_s} s; shown:\n{self.text}")

    def _rest_of_the_picture(self) -> None:
        """A page is drawn in several writes: take what still comes, for a moment."""
        for _ in range(10):
            before = len(self.received)
            self.read()
            if len(self.received) == before:
                return

    def hang_up(self) -> None:
        """The other end of the terminal is gone, as when a line to a far machine drops."""
        if self._master >= 0:
            os.close(self._master)
            self._master = -1

    def end(self, within_s: float = 30.0) -> int:
        """Wait for the program's end; its exit code."""
        until_s = time.monotonic() + within_s
        while self.process.poll() is None:
            self.read()
            if time.monotonic() > until_s:
                raise AssertionError(f"still running after {within_s} s; shown:\n{self.text}")
        for _ in range(5):
            self.read(0.02)
        return self.process.returncode

    @property
    def restored(self) -> bool:
        """True when the terminal is as it was: line mode, echo, first page, cursor."""
        after = termios.tcgetattr(self._slave)
        left_page = self.received.rfind(b"\x1b[?1049l") > self.received.rfind(b"\x1b[?1049h")
        cursor = self.received.rfind(b"\x1b[?25h") > self.received.rfind(b"\x1b[?25l")
        return after[3] == self.before[3] and left_page and cursor


def _take_terminal() -> None:
    """The pseudo-terminal is the controlling one, so that hanging up reaches the program."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


def sweep(shelf: Path, rig: Path, code: str = START, faults: tuple[str, ...] = ()) -> Terminal:
    """A sweep on the screens, confirmed beforehand; `code` starts the program."""
    return Terminal(
        "--shelf", str(shelf), "sweep", "--rig", str(rig), "--rated", "small-frame-14v-90a",
        "--serial", "A-17", "--screen", "--yes", *faults, code=code,
        environment={"HANGS_IN": str(rig.parent)},
    )  # fmt: skip


def only_run(shelf: Path) -> Path:
    """The folder of the one run on the shelf."""
    (folder,) = [path for path in shelf.iterdir() if (path / "run.json").exists()]
    return folder
