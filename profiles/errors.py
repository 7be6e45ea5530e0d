"""The root of the error family, and what is wrong with a file of ours.

The family is cut by what the operator must do:

* `BenchError`: every error raised on purpose; `what_to_do` is ready to show
    * `ProfileError`: edit the file (all its problems at once)
    * `drivers.errors.InstrumentError`: look at an instrument, a cable or a port
    * `acquire.errors.OrderError`, `acquire.sweep.plan.PlanError`: ask for something else
    * `acquire.errors.RunFileError`: a run cannot be written or read
    * `acquire.shelf.errors.ShelfError`: the index of the shelf
    * `acquire.curve.points.CannotFit`, and `BadPoint`, `NoLimit`, `BadCheckAnswer` in
      `acquire.judge`: correct the points, the rule or the answer

What a guard says is no error: it is a `Trip` (`acquire.guard`), and the run is then stopped.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


class BenchError(Exception):
    """An error raised on purpose: what was wrong, and what to do about it."""

    def __init__(self, message: str, *, what_to_do: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.what_to_do = what_to_do

    def __str__(self) -> str:
        return f"{self.message} {self.what_to_do}".rstrip()


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a file: where, what, and how to mend it."""

    file: str
    key: str
    """Dotted path of the key, as in `channels.amps.every_s`; empty for the file as a whole."""
    message: str
    what_to_do: str = ""

    def __str__(self) -> str:
        place = f"{self.file}: {self.key}" if self.key else self.file
        return f"{place}: {self.message} {self.what_to_do}".rstrip()


class ProfileError(BenchError):
    """A file of the user's is wrong; carries every problem found in it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))
