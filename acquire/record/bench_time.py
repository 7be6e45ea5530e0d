"""Times of a record as the clock on the bench's wall showed them.

A record is dated in UTC; run.json keeps in `host` how far the bench's own time was ahead of it as
the run began, as ISO 8601 writes it: +05:30. A record without that is told in UTC, and says so.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta, timezone

from profiles.plain_text import visible

UTC_OFFSET = "utc_offset"
"""The key in `host`."""
_OFFSET = re.compile(r"([+-])(\d\d):([0-5]\d)", re.ASCII)
_DAY = timedelta(days=1)
_MINUTE = timedelta(minutes=1)


def offset_text(offset: timedelta) -> str:
    """As in `+05:30` or `-03:00`."""
    sign, hours, minutes = _parts(offset)
    return f"{sign}{hours:02d}:{minutes:02d}"


def offset_from(text: str | None) -> timedelta | None:
    """Read back what `offset_text` wrote; None for anything else, as UTC is always right."""
    found = _OFFSET.fullmatch(text or "")
    if found is None:
        return None
    offset = timedelta(hours=int(found[2]), minutes=int(found[3]))
    if offset >= _DAY:
        return None
    return -offset if found[1] == "-" else offset


def at_bench(utc: str, offset: timedelta | None) -> datetime:
    """A time of the record on the bench's clock, aware; in UTC where the offset is not known.

    Raises:
        ValueError: If `utc` is no date and time.
    """
    when = _aware(utc)
    try:
        return when.astimezone(timezone(offset or timedelta()))
    except OverflowError:
        return when  # the first or last day there is: `zone_words` tells what it stands in


def zone_words(when: datetime) -> str:
    """What a time is to be read in: `UTC`, `UTC+1`, `UTC+5:30` or `UTC-3`."""
    sign, hours, minutes = _parts(when.utcoffset() or timedelta())
    if hours == minutes == 0:
        return "UTC"
    return f"UTC{sign}{hours}" + (f":{minutes:02d}" if minutes else "")


def zone_beside(when: datetime) -> str:
    """The same as it stands behind a time: `UTC`, or an offset in brackets."""
    words = zone_words(when)
    return words if words == "UTC" else f"({words})"


def moment_words(utc: str, offset: timedelta | None) -> str:
    """As in `2026-11-25 09:15 (UTC+1)` or `2026-11-25 08:15 UTC`; no time stays as it is."""
    try:
        when = at_bench(utc, offset)
    except ValueError:
        return visible(utc)
    return f"{when.date().isoformat()} {when:%H:%M} {zone_beside(when)}"


def day_at_bench(utc: str, offset: timedelta | None) -> date:
    """The date on the bench's calendar.

    Raises:
        ValueError: If `utc` is no date and time.
    """
    return at_bench(utc, offset).date()


def day_here(utc: str) -> str:
    """The date of a time of a record on this computer's calendar; no time stays as it is."""
    try:
        return _aware(utc).astimezone().date().isoformat()
    except (ValueError, OverflowError, OSError):
        return visible(utc[:10])


def _aware(utc: str) -> datetime:
    when = datetime.fromisoformat(utc)
    return when if when.tzinfo is not None else when.replace(tzinfo=UTC)


def _parts(offset: timedelta) -> tuple[str, int, int]:
    """Sign, hours, and minutes beyond them."""
    hours, minutes = divmod(abs(offset) // _MINUTE, 60)
    return "-" if offset < timedelta() else "+", hours, minutes
