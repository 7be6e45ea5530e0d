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

    @property
    def what_was_wrong(self) -> str:
        """What was wrong with what, without what to do about it."""
        return self.message


def advice_together(advice: Iterable[tuple[str, str]]) -> str:
    """What to do about several things: one line each, after whom it is for; the same only once."""
    whom: dict[str, list[str]] = {}
    for place, what_to_do in advice:
        if what_to_do:
            whom.setdefault(what_to_do, []).append(place)
    if len(whom) == 1:
        return next(iter(whom))
    return "\n".join(f"{', '.join(places)}: {words}" for words, places in whom.items())


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a file: where, what, and how to mend it."""

    file: str
    key: str
    """Dotted path of the key, as in `channels.amps.every_s`; empty for the file as a whole."""
    message: str
    what_to_do: str = ""

    def __str__(self) -> str:
        return f"{self.place}: {self.message} {self.what_to_do}".rstrip()

    @property
    def place(self) -> str:
        """File and key."""
        return f"{self.file}: {self.key}" if self.key else self.file


class ProfileError(BenchError):
    """A file of the user's is wrong; carries every problem found in it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(
            "\n".join(f"{problem.place}: {problem.message}" for problem in self.problems),
            what_to_do=advice_together((one.place, one.what_to_do) for one in self.problems),
        )

    def __str__(self) -> str:
        return "\n".join(str(problem) for problem in self.problems)
