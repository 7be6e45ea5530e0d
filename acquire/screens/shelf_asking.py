"""Questions of the page of past tests to the shelf: the runs about a place in a long list."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from acquire.record.claim import being_written
from acquire.record.samples import SAMPLES_FILE
from acquire.screens.shelf_index import FROM_FOLDERS, OpenedIndex, from_folders, open_index
from acquire.shelf.catching_up import catch_up
from acquire.shelf.entry import RunEntry
from acquire.shelf.errors import ShelfError
from acquire.shelf.pairs import Partners
from acquire.shelf.search_keys import folded
from acquire.shelf.shelf import Shelf
from acquire.shelf.wanted import Wanted, first_day

LEAST, MOST = 2, 4
"""So many windows of runs are fetched at once: a few keys up and down need no new question."""
OF_A_DAY = 100
LET_IN_S = 0.002


@dataclass(frozen=True, slots=True)
class Question:
    """The runs `wanted`, those about one place."""

    number: int
    """Counts up; an answer to an earlier one comes too late."""
    wanted: Wanted
    at: int
    """The place, 0 is the newest run."""
    rows: int
    """How many are to be seen at once, in the highest case."""
    keep: RunEntry | None = None
    """The run to stay at, wherever it is now."""


@dataclass(frozen=True, slots=True)
class Answer:
    """Some runs of a list, and where they are in it."""

    number: int
    at: int
    entries: tuple[RunEntry, ...]
    first: int
    """The place of the first one."""
    total: int
    exact: bool
    """False: there are more than `total`; they were not all counted."""
    all_runs: int
    """How many there are on the shelf, looked for or not."""
    partners: Mapping[str, Partners]
    trouble: str = ""
    unreadable: int = 0
    written: Mapping[str, bool | None] = field(default_factory=dict)
    """Of the runs that did not end, by run id: whether another program writes them still."""


class ShelfAsker:
    """Answers one question at a time; opened by the first one. From any thread but the page's."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.reading = ""
        """What is read before all can be answered, as in `Reading the folders: 250 of 900.`"""
        self._index: OpenedIndex | None = None
        self._lock = threading.Lock()
        self._closed = False

    def answer(self, question: Question) -> Answer:
        """The runs about the place asked for.

        Raises:
            ShelfError: Neither index nor folders can be used, or `close` came before.
        """
        with self._lock:
            index = self._opened()
            try:
                return _answered(index, question)
            except ShelfError as error:
                if index.unread is not None:
                    raise
                index.shelf.close()
                self._index = from_folders(self.folder, f"{error} For now {FROM_FOLDERS}")
                return _answered(self._index, question)

    @property
    def reads_folders(self) -> bool:
        """True where there is no index to be asked and the folders were not read yet."""
        return self._index is not None and self._index.unread is not None

    def read_folders(self) -> None:
        """Read every folder, where there is no index; questions are answered meanwhile."""
        with self._lock:
            index = self._opened()
            if index.unread is None:
                return
            database, ground = index.unread
            with contextlib.suppress(OSError):
                catch_up(database, ground, tell=self._told)
            self._index, self.reading = replace(index, unread=None), ""

    def _told(self, done: int, of: int) -> None:
        self.reading = f"Reading the folders: {done} of {of}."
        self._lock.release()
        time.sleep(LET_IN_S)
        self._lock.acquire()
        self._refuse_when_left()

    def _opened(self) -> OpenedIndex:
        self._refuse_when_left()
        if self._index is None:
            self._index = open_index(self.folder)
        return self._index

    def _refuse_when_left(self) -> None:
        """A question still under way as the page was left must not open the index once more."""
        if self._closed:
            raise ShelfError("The page was left.")

    def close(self) -> None:
        """Let go of the index, for good."""
        self._closed = True
        with self._lock:
            if self._index is not None:
                self._index.shelf.close()
                self._index = None


def _answered(index: OpenedIndex, question: Question) -> Answer:
    shelf, wanted, keep = index.shelf, question.wanted.checked(), question.keep
    found = _about(shelf, wanted, question.at, question.rows)
    if keep is not None and _may_hold(wanted, keep) and _place_in(found, keep) is None:
        place = place_of(shelf, wanted, keep)
        if place is not None:
            found = _about(shelf, wanted, place, question.rows)
    at = _place_in(found, keep) if keep is not None else question.at
    if at is None:
        at = 0 if wanted != Wanted() else question.at
    trouble = shelf.away or index.trouble
    return Answer(
        number=question.number,
        at=max(0, min(at, found.first + len(found.entries) - 1)),
        entries=found.entries,
        first=found.first,
        total=found.total,
        exact=found.exact,
        all_runs=found.total if wanted == Wanted() else shelf.page(limit=1).total,
        partners=shelf.partners(found.entries),
        trouble=trouble,
        unreadable=len(shelf.unreadable()),
        written={
            entry.run_id: being_written(entry.path / SAMPLES_FILE)
            for entry in found.entries
            if entry.state == "running"
        },
    )


@dataclass(frozen=True, slots=True)
class _Stretch:
    entries: tuple[RunEntry, ...]
    first: int
    total: int
    exact: bool


def _about(shelf: Shelf, wanted: Wanted, at: int, rows: int) -> _Stretch:
    """The runs about a place; those at the end where there are not so many."""
    while True:
        limit, number = page_about(at, rows)
        page = shelf.page(wanted, limit=limit, number=number)
        if page.entries or number == 1:
            return _Stretch(page.entries, limit * (number - 1), page.total, page.exact)
        at = min(page.total, limit * (number - 1)) - 1


def page_about(at: int, rows: int) -> tuple[int, int]:
    """Size and number of the page that holds a place with the most about it on either side.

    Pages begin at multiples of their size: another size is another cut.
    """

    least, most = LEAST * rows, MOST * rows

    def spare(limit: int) -> int:
        before = at % limit if at >= limit else most
        return min(before, limit - at % limit)

    limit = max(range(least, most), key=lambda one: (spare(one), -one))
    return limit, at // limit + 1


def _place_in(found: _Stretch, run: RunEntry) -> int | None:
    for number, entry in enumerate(found.entries):
        if entry.run_id == run.run_id:
            return found.first + number
    return None


def _may_hold(wanted: Wanted, run: RunEntry) -> bool:
    """False where it is plain, without asking, that the run is none of these."""
    return all(word in run.words for word in folded(wanted.text).split())


def place_of(shelf: Shelf, wanted: Wanted, run: RunEntry) -> int | None:
    """How many of the runs wanted are newer than this one; None where it is none of them.

    The runs from its day on are counted: it is among the last of those.
    """
    day = run.began_utc[:10]
    if wanted.since and first_day(wanted.since).isoformat() > day:
        return None
    from_its_day = replace(wanted, since=day)
    count = shelf.page(from_its_day, limit=1)
    if not count.exact or count.total == 0:
        return None
    last = -(-count.total // OF_A_DAY)
    for number in (last, last - 1):
        if number >= 1:
            page = shelf.page(from_its_day, limit=OF_A_DAY, number=number)
            found = _Stretch(page.entries, OF_A_DAY * (number - 1), page.total, page.exact)
            place = _place_in(found, run)
            if place is not None:
                return place
    return None
