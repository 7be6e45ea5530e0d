"""The shelf's index for the screens: opened quickly, and done without where it cannot be used."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from acquire.shelf.database import INDEX_FILE, Database, memory_database
from acquire.shelf.errors import ShelfError
from acquire.shelf.reading import Ground
from acquire.shelf.shelf import Shelf, open_shelf
from acquire.shelf.where import local_ground, server_of
from profiles.errors import BenchError
from profiles.plain_text import visible

LOCKED_S = 1.0
"""So long another program may hold the index before the folders are read instead [s]."""
FROM_FOLDERS = "the folders are read instead."


@dataclass(frozen=True, slots=True)
class OpenedIndex:
    """A shelf that can be asked."""

    shelf: Shelf
    trouble: str = ""
    """Why its index is not used as it should be, in a sentence; empty where it is."""
    unread: tuple[Database, Ground] | None = None
    """What is to be filled from the folders before all can be found; None: an index is kept."""


def open_index(folder: Path) -> OpenedIndex:
    """Open the index of a shelf without looking at the folders; close its `shelf`."""
    try:
        url, trouble = server_of(folder), ""
    except BenchError as error:
        url, trouble = None, str(error)
    if url is not None:
        try:
            return OpenedIndex(open_shelf(folder, url, refresh=False))
        except ShelfError as error:  # no address, or its driver is missing
            trouble = f"Only the runs of this bench are shown. {error}"
    if is_locked(folder):
        words = f"Another program keeps the index of this shelf locked; {FROM_FOLDERS}"
        return from_folders(folder, words)
    try:
        shelf = open_shelf(folder, refresh=False)
    except ShelfError as error:
        return from_folders(folder, f"{error} For now {FROM_FOLDERS}")
    if folder.is_dir() and not (folder / INDEX_FILE).is_file():
        shelf.close()
        return from_folders(folder, f"No index can be kept on this shelf; {FROM_FOLDERS}")
    return OpenedIndex(shelf, trouble)


def from_folders(folder: Path, trouble: str) -> OpenedIndex:
    """A shelf that is to be read from its folders, and is gone with the page."""
    database, ground = memory_database(), local_ground(folder)
    words = visible(" ".join(trouble.split()))
    return OpenedIndex(Shelf(folder, database, ground), words, unread=(database, ground))


@contextmanager
def index_of(folder: Path) -> Iterator[OpenedIndex]:
    """The same, closed at the end."""
    opened = open_index(folder)
    try:
        yield opened
    finally:
        opened.shelf.close()


def is_locked(folder: Path) -> bool:
    """True where another program does not let the index be read; found out within a second."""
    path = (folder / INDEX_FILE).absolute()
    if not path.is_file():
        return False
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True, timeout=LOCKED_S)) as it:
            it.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.Error as error:
        # Whatever else is wrong with it is mended where it is opened.
        return error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
    return False
