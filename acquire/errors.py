"""What can go wrong in a run, beyond instruments and profiles."""

from __future__ import annotations

from pathlib import Path

from profiles.errors import BenchError
from profiles.plain_text import visible

LONGEST_NAME = 1000
"""Of a path in a message."""


class RunFileError(BenchError):
    """A file of a run cannot be written or read: which one, what was wrong, what to do."""

    def __init__(self, file: Path | str, message: str, *, what_to_do: str = "") -> None:
        self.file = Path(file)
        super().__init__(f"{_named(file)}: {message}", what_to_do=what_to_do)


def _named(file: Path | str) -> str:
    name = visible(str(file))
    return name if len(name) <= LONGEST_NAME else f"{name[:LONGEST_NAME]}…"


class LimitReached(BenchError):
    """A guard stopped the run: a channel reached a limit."""

    def __init__(self, channel: str, value: float, limit: float, *, what_to_do: str = "") -> None:
        self.channel = channel
        self.value = value
        self.limit = limit
        super().__init__(
            f"{channel} reached {value:g}; the limit is {limit:g}. The drive was stopped.",
            what_to_do=what_to_do or "Find out why before the next run; the limit is in the rig.",
        )


class OrderError(BenchError):
    """What was asked for does not go together, or cannot be asked for here."""
