"""What is looked for on the shelf."""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date, timedelta

from acquire.shelf.errors import ShelfError
from profiles.plain_text import nearest, shown

OUTCOMES = ("pass", "fail", "undecided", "not judged", "stopped", "not finished", "no verdict")
_DATE = re.compile(r"([0-9]{4})(?:-([0-9]{2}))?(?:-([0-9]{2}))?")


@dataclass(frozen=True, slots=True)
class Wanted:
    """Only runs of which all of this is true; what is empty or None asks nothing."""

    text: str = ""
    """Every word of it stands somewhere in the run's names."""
    serial: str = ""
    """The serial begins so, however it is written."""
    job: str = ""
    """The job's number begins so, however it is written."""
    unit: str = ""
    """Every word stands in the unit's text."""
    since: str = ""
    """First day, UTC: 2026-11-25, or a month, or a year."""
    until: str = ""
    """Last day, UTC, as `since`."""
    outcomes: tuple[str, ...] = ()
    """One of these (`OUTCOMES`)."""
    stage: str = ""
    rated: str = ""
    """Every word stands in the rated profile's title or file name."""
    simulated: bool | None = None

    def checked(self) -> Wanted:
        """The same, known to be usable.

        Raises:
            ShelfError: If a date or an outcome is none.
        """
        if self.since:
            first_day(self.since)
        if self.until:
            last_day(self.until)
        for outcome in self.outcomes:
            _check_outcome(outcome)
        return self


def first_day(text: str) -> date:
    """The first day of a day, a month or a year.

    Raises:
        ShelfError: If it is none.
    """
    year, month, day = _parts(text)
    return _day(text, year, 1 if month is None else month, 1 if day is None else day)


def last_day(text: str) -> date:
    """The last day of a day, a month or a year.

    Raises:
        ShelfError: If it is none.
    """
    year, month, day = _parts(text)
    first = _day(text, year, 12 if month is None else month, 1 if day is None else day)
    return (
        first
        if day is not None
        else first.replace(day=calendar.monthrange(first.year, first.month)[1])
    )


def day_after(text: str) -> str:
    """The day after the last day of `text`; empty for the end of time."""
    last = last_day(text)
    return "" if last == date.max else (last + timedelta(days=1)).isoformat()


def _parts(text: str) -> tuple[int, int | None, int | None]:
    found = _DATE.fullmatch(text.strip())
    if found is None:
        raise _no_date(text)
    year, month, day = (None if part is None else int(part) for part in found.groups())
    return year or 0, month, day


def _day(text: str, year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise _no_date(text) from None


def _no_date(text: str) -> ShelfError:
    return ShelfError(
        f"{shown(text)} is no date.", what_to_do="Write 2026-11-25, 2026-11 or 2026 (UTC)."
    )


def outcome_of(text: str) -> str:
    """The outcome meant by what was typed: `not-judged` is `not judged`."""
    return " ".join(text.casefold().replace("-", " ").replace("_", " ").split())


def _check_outcome(outcome: str) -> None:
    if outcome not in OUTCOMES:
        near = nearest(outcome, OUTCOMES)
        hint = f" Did you mean {near}?" if near else ""
        raise ShelfError(
            f"{shown(outcome)} is no outcome.{hint}", what_to_do=f"Known: {', '.join(OUTCOMES)}."
        )
