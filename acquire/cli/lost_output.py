"""Output that cannot be written is dropped while a test runs: the terminal may be gone by then.

A rig must come to rest, and its record be judged and sealed, whether or not anybody reads along.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from typing import Any, TextIO, cast


class DroppingStream:
    """A text stream that never refuses: once it fails, all that is written to it is dropped."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self.lost: OSError | None = None
        """Why nothing reaches it any more."""

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - whatever the stream itself has
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        """Write, or drop; the number of characters, as of any text stream."""
        with self._dropped():
            self._stream.write(text)
        return len(text)

    def flush(self) -> None:
        """Write out what is held back, or drop it."""
        with self._dropped():
            self._stream.flush()

    @contextlib.contextmanager
    def _dropped(self) -> Iterator[None]:
        try:
            yield
        except OSError as error:
            if self.lost is None:
                self.lost = error
                self._into_nothing()

    def _into_nothing(self) -> None:
        """What the stream still holds would fail again when the program ends."""
        with contextlib.suppress(OSError):
            nothing = os.open(os.devnull, os.O_WRONLY)
            try:
                os.dup2(nothing, self._stream.fileno())
            finally:
                os.close(nothing)


@contextlib.contextmanager
def dropping_output() -> Iterator[None]:
    """While entered, neither standard output nor standard error raises when it is written to.

    Where only one of them is lost the other one tells of it at the end.
    """
    before = sys.stdout, sys.stderr
    streams = [DroppingStream(stream) for stream in before]
    sys.stdout, sys.stderr = (cast("TextIO", stream) for stream in streams)
    try:
        yield
    finally:
        for stream in streams:
            stream.flush()
        _tell_of_each_other(*streams)
        sys.stdout, sys.stderr = before


def _tell_of_each_other(out: DroppingStream, err: DroppingStream) -> None:
    if out.lost is not None and err.lost is None:
        said = out.lost.strerror or str(out.lost)
        err.write(f"What belongs on standard output could not be written ({said}).\n")
        err.flush()
