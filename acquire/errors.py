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


class CutOffError(BenchError):
    """What cut a run off after the drive was told to run; the rig was brought to rest."""


class OrderError(BenchError):
    """What was asked for does not go together, or cannot be asked for here."""
