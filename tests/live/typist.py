"""Somebody at a terminal: reads what the program says, types a line."""

from __future__ import annotations

import contextlib
import os
import pty
import select
import subprocess
import time
from collections.abc import Mapping, Sequence
from types import TracebackType
from typing import Self

from tests.live.commands import CHECKOUT

PATIENCE_S = 60.0


class Typist:
    """Runs a program on a pseudo-terminal; use as a context."""

    def __init__(
        self, arguments: Sequence[str], environment: Mapping[str, str], *, own_session: bool = False
    ) -> None:
        self._here, there = pty.openpty()
        self._program = subprocess.Popen(
            arguments, stdin=there, stdout=there, stderr=there, cwd=CHECKOUT, env=dict(environment),
            start_new_session=own_session,
        )  # fmt: skip
        os.close(there)
        self._unread = ""
        self.heard = ""

    def expect(self, words: str) -> Self:
        """Read until the words have come, however folded; what stood before is done with."""
        until = time.monotonic() + PATIENCE_S
        while words not in self._unread:
            assert time.monotonic() < until, f"'{words}' did not come; heard: {self.heard[-2000:]}"
            ready, _, _ = select.select([self._here], [], [], 0.2)
            if ready:
                self._read(words)
        self._unread = self._unread.partition(words)[2]
        return self

    def _read(self, words: str) -> None:
        try:
            text = os.read(self._here, 65536).decode("utf-8", "replace")
        except OSError as error:
            raise AssertionError(f"the program ended before '{words}': {self.heard}") from error
        self._unread = " ".join(f"{self._unread}{text}|".split())[:-1]
        self.heard += text

    def answer(self, line: str) -> None:
        """Type a line and the enter key."""
        os.write(self._here, f"{line}\n".encode())

    def hang_up(self) -> int:
        """Close the terminal, wait for the program, give its exit code."""
        os.close(self._here)
        self._here = -1
        return self._program.wait(PATIENCE_S)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._program.wait(0 if error else PATIENCE_S)
        self._program.kill()
        self._program.wait()
        if self._here >= 0:
            os.close(self._here)
