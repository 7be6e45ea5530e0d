"""The same unit tested twice on one day at the same stage: a fact to be told, and no obstacle."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from acquire.record.run_name import utc_of
from acquire.shelf.entry import RunEntry
from acquire.shelf.search_keys import search_key

MEANT = ("reference",)
"""Stages at which a unit is run again and again on purpose."""


def same_day_words(earlier: RunEntry | None, *, stage: str | None, now: datetime) -> str:
    """A sentence where the last run of this serial is of the day of `now` and of this stage too.

    The day is that in the zone of `now`. Empty otherwise, and for a reference unit.
    """
    stage_key = search_key(stage or "")
    if earlier is None or search_key(earlier.stage or "") != stage_key or stage_key in MEANT:
        return ""
    began = utc_of(earlier.began_utc).astimezone(now.tzinfo)
    if began.date() != now.date():
        return ""
    as_stage = f" as {stage}" if stage else ""
    hint = "" if stage else " A stage (before, after) tells them apart."
    outcome = f" ({earlier.outcome})" if earlier.outcome else ""
    return (
        f"{earlier.serial} was tested today already{as_stage}, at {began:%H:%M}{outcome}:"
        f" {earlier.folder}.{hint}"
    )


def told_by_shelf(
    shelf: Path, serial: str, *, stage: str | None, simulated: bool, now: datetime
) -> str:
    """The same, asked of the index of the shelf; empty where there is no shelf yet.

    Raises:
        ShelfError: If the index cannot be used.
    """
    from acquire.shelf.shelf import open_shelf
    from acquire.shelf.where import server_of

    if not shelf.is_dir():
        return ""
    with open_shelf(shelf, server_of(shelf)) as opened:
        last = opened.last_of(serial, simulated=simulated)
    return same_day_words(last, stage=stage, now=now)
