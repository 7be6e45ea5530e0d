"""Bringing the index up to what lies on the shelf."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from acquire.shelf import noting
from acquire.shelf.database import Database
from acquire.shelf.entry import RunEntry, SetAside
from acquire.shelf.noting import Known
from acquire.shelf.reading import (
    Ground,
    clean,
    may_be_a_run,
    read_entry,
    set_aside,
    stamp_of,
)

BATCH = 250
SETTLED_NS = 3_000_000_000
"""A folder changed less than this ago may change again without its time telling: some file
systems count in steps of two seconds."""

Tell = Callable[[int, int], None]
"""Told how many folders are done, of how many."""


@dataclass(slots=True)
class Changes:
    """What became of the index."""

    read: int = 0
    """Run folders read."""
    gone: int = 0
    """Entries whose folder is no longer there."""
    set_aside: list[SetAside] = field(default_factory=list)
    """Folders that were read and cannot be listed."""


def catch_up(
    database: Database, ground: Ground, *, everything: bool = False, tell: Tell | None = None
) -> Changes:
    """Compare folders with the index, and change the index.

    A run that is whole never changes, so only new folders, and those that may still change, are
    looked at; where the shelf itself has not changed its folders are not even listed.
    `everything`: all folders are read, and this shelf becomes the home of every run on it.

    Raises:
        OSError: If the shelf's folder cannot be listed.
        ShelfError: If the database cannot be used.
    """
    changed_ns = ground.folder.stat().st_mtime_ns
    settled = time.time_ns() - changed_ns > SETTLED_NS
    if not everything and settled:
        seen_ns = database.read(lambda c: noting.seen_at(c, ground))
        if seen_ns == changed_ns:
            return _read_all(database, ground, _changed(database, ground), everything, tell)
    names = run_folders(ground.folder)
    known = database.read(lambda c: noting.folders_of(c, ground))
    gone = _gone(database, ground, names, known, everything=everything)
    if gone:
        database.write(lambda c: noting.strike(c, ground, gone))
    if everything:
        to_read = sorted(names)
    else:
        new = sorted(name for name in names if clean(name) not in known)
        to_read = [*new, *_changed(database, ground)]
    changes = _read_all(database, ground, to_read, everything, tell)
    changes.gone = len(gone)
    database.write(lambda c: noting.note_seen(c, ground, changed_ns if settled else None))
    return changes


def run_folders(shelf: Path) -> list[str]:
    """Names of the folders on the shelf that are runs or were meant to be.

    Raises:
        OSError: If the shelf cannot be listed.
    """
    import os

    with os.scandir(shelf) as found:
        return [one.name for one in found if one.is_dir() and may_be_a_run(one.name, Path(one))]


def _gone(
    database: Database,
    ground: Ground,
    names: Iterable[str],
    known: Mapping[str, str],
    *,
    everything: bool,
) -> list[str]:
    """Folders to be struck. Where storage is synced a folder may still be on its way here: only
    what this bench noted itself is struck, or anything where all is made anew."""
    there = {clean(name) for name in names}
    any_bench = everything or not database.shared
    return sorted(
        name
        for name, bench in known.items()
        if name not in there and (any_bench or bench == ground.bench)
    )


def _changed(database: Database, ground: Ground) -> list[str]:
    """Folders in the index that may have changed, and have."""
    open_ones = database.read(lambda c: noting.open_folders(c, ground))
    return sorted(name for name, known in open_ones.items() if _has_changed(ground, name, known))


def _has_changed(ground: Ground, name: str, known: Known) -> bool:
    folder = ground.folder / name
    return known.stamp != stamp_of(folder) and folder.is_dir()


def _read_all(
    database: Database,
    ground: Ground,
    names: Sequence[str],
    everything: bool,
    tell: Tell | None,
) -> Changes:
    changes = Changes(read=len(names))
    for first in range(0, len(names), BATCH):
        batch = names[first : first + BATCH]
        changes.set_aside += _read_batch(database, ground, batch, everything)
        if tell is not None:
            tell(first + len(batch), len(names))
    return changes


def _read_batch(
    database: Database, ground: Ground, names: Iterable[str], everything: bool
) -> list[SetAside]:
    found = [_read_one(ground, name) for name in names]
    entries = [one for one in found if isinstance(one, RunEntry)]
    unreadable = [one for one in found if isinstance(one, SetAside)]
    copies = database.write(
        lambda c: noting.note(c, ground, entries, unreadable, take_over=everything)
    )
    return [*unreadable, *copies]


def _read_one(ground: Ground, name: str) -> RunEntry | SetAside:
    if clean(name) != name:
        return set_aside(ground, clean(name), "has a name that cannot be kept: rename the folder.")
    return read_entry(ground, name)
