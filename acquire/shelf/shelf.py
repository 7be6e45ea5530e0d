"""The shelf, opened: lists, searches, keeps itself up to date, mends itself.

with open_shelf(folder, server_of(folder)) as shelf:
    page = shelf.page(Wanted(serial="SF90"), limit=20)
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Self, TypeVar

from acquire.record.run_header import RUN_FILE
from acquire.record.run_name import FOUR_LETTERS, too_short_an_ending
from acquire.shelf import finding
from acquire.shelf.catching_up import Changes, Tell, catch_up
from acquire.shelf.database import (
    Database,
    file_database,
    memory_database,
    remove_index_file,
    server_database,
)
from acquire.shelf.entry import RunEntry, SetAside
from acquire.shelf.errors import IndexBroken, NoSuchRun, ServerAway, ShelfError
from acquire.shelf.pairs import Partners, partners_among
from acquire.shelf.reading import Ground, clean, read_entry
from acquire.shelf.server_trouble import AWAY
from acquire.shelf.wanted import Wanted
from acquire.shelf.where import local_ground, shared_ground
from acquire.typed_path import is_there, typed_path
from profiles.plain_text import shown

if TYPE_CHECKING:
    from sqlalchemy import Connection

EVERY_RUN = Wanted()
PAGE = 50
MOST_NAMED = 5
"""Runs told by name where one name may mean several."""
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Page:
    """Some of the runs that were looked for, newest first."""

    entries: tuple[RunEntry, ...]
    total: int
    """How many there are on all pages."""
    exact: bool
    """False: there are more than `total`; they were not all counted."""
    number: int
    """1 is the first page."""
    limit: int

    @property
    def pages(self) -> int:
        """How many pages there are, as far as counted."""
        return max(1, -(-self.total // self.limit))


class Shelf:
    """Use `open_shelf`, and as a context; short-lived, for one question or a few."""

    def __init__(self, folder: Path, database: Database, ground: Ground) -> None:
        self.folder = folder
        self.away = ""
        """That the server is not asked, and why; empty where it is, or where there is none."""
        self._away: ServerAway | None = None
        self._database = database
        self._ground = ground

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_ignored: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self._database.close()

    @property
    def shared(self) -> bool:
        """True where a server answers for several benches."""
        return self._database.shared

    # ---- asking --------------------------------------------------------------------------

    def page(self, wanted: Wanted = EVERY_RUN, *, limit: int = PAGE, number: int = 1) -> Page:
        """One page of the runs wanted, newest first.

        Raises:
            ShelfError: If what is wanted is no date or outcome, or the index cannot be used.
        """
        wanted, limit, number = wanted.checked(), max(1, limit), max(1, number)
        offset = (number - 1) * limit
        entries, count = self._ask(lambda c: finding.page_of(c, wanted, limit=limit, offset=offset))
        return Page(tuple(self._here(entries)), count.runs, count.exact, number, limit)

    def every(self, wanted: Wanted = EVERY_RUN) -> Iterator[RunEntry]:
        """All runs wanted, newest first, fetched in pieces."""
        wanted = wanted.checked()
        after: RunEntry | None = None
        while some := self._next(wanted, after):
            yield from some
            after = some[-1]

    def _next(self, wanted: Wanted, after: RunEntry | None) -> list[RunEntry]:
        return self._here(self._ask(lambda c: finding.next_of(c, wanted, after)))

    def find(self, name: str) -> RunEntry:
        """The run meant by a path, a folder's name, its beginning, or its last four letters.

        Raises:
            ShelfError: If there is none, or more than one.
        """
        folder = typed_path(name)
        if is_there(folder / RUN_FILE) and (folder / RUN_FILE).is_file():
            return _entry_at(folder.resolve())
        name = clean(folder.name if is_there(folder) and folder.is_dir() else name)
        found = self._here(self._ask(lambda c: finding.named(c, name)))
        if len(found) == 1 and name in (found[0].run_id, found[0].folder):
            return found[0]
        aside = self._ask(lambda c: finding.set_aside_named(c, self._ground.shelf, name))
        if len(found) == 1 and not aside:
            return found[0]
        raise self._not_one(name, found, aside)

    def _not_one(
        self, name: str, found: Sequence[RunEntry], aside: Sequence[SetAside]
    ) -> ShelfError:
        """Why nothing, or no single run, is meant by a name."""
        folders = [one.folder for one in found]
        folders += [f"{one.folder} ({'a copy' if one.run_id else 'not listed'})" for one in aside]
        if len(folders) > 1:
            several = ", ".join(folders[:MOST_NAMED])
            more = f" and {len(folders) - MOST_NAMED} more" if len(folders) > MOST_NAMED else ""
            return ShelfError(
                f"{shown(name)} may be one of several runs: {several}{more}.",
                what_to_do="Write the whole name of its folder.",
            )
        if folders:
            return ShelfError(f"{aside[0].path} is not listed: {aside[0].problem}")
        search = "`steadyamps shelf search` finds it by serial, job or unit."
        return NoSuchRun(
            f"There is no run {shown(name)} on the shelf {self._ground.place}.",
            what_to_do=FOUR_LETTERS if too_short_an_ending(name) else search,
        )

    def last_of(self, serial: str, *, simulated: bool) -> RunEntry | None:
        """The newest whole run of this very serial; simulated and real ones are never mixed."""
        last = self._ask(lambda c: finding.last_of(c, serial, simulated=simulated))
        return None if last is None else self._here([last])[0]

    def partners(self, entries: Iterable[RunEntry]) -> dict[str, Partners]:
        """For each of these runs that has one, the run before or after the rebuild, by run id."""
        entries = list(entries)
        found = partners_among(self.of_same_units(entries))
        return {one.run_id: found[one.run_id] for one in entries if one.run_id in found}

    def of_same_units(self, entries: Iterable[RunEntry]) -> list[RunEntry]:
        """Every whole run of the units of these runs, oldest first."""
        keys = {one.same_unit_key for one in entries}
        return self._here(self._ask(lambda c: finding.of_same_units(c, keys)))

    def unreadable(self) -> Sequence[SetAside]:
        """Folders that were meant to be runs and cannot be read."""
        return self._ask(finding.set_aside_in)

    def _here(self, entries: Iterable[RunEntry]) -> list[RunEntry]:
        """Runs on this shelf with its path on this bench: others may see it elsewhere."""
        mine, place = self._ground.shelf, self._ground.place
        return [
            replace(one, place=place) if one.shelf == mine and one.place != place else one
            for one in entries
        ]

    # ---- keeping it up to date -----------------------------------------------------------

    def refresh(self) -> Changes:
        """Note what is new on the shelf, and forget what is gone; quick where nothing is.

        Raises:
            ShelfError: If the index cannot be used.
        """
        return self._and_mend(self._catch_up)

    def rebuild(self, tell: Tell | None = None) -> Changes:
        """Make this shelf's part of the index again from its folders.

        Raises:
            ShelfError: If the server is away, or the index cannot be made.
        """
        if self._away is not None:
            raise self._away
        if not self._database.shared or self._is_broken():
            self._begin_anew()
        return self._catch_up(everything=True, tell=tell)

    def _catch_up(self, *, everything: bool = False, tell: Tell | None = None) -> Changes:
        try:
            return catch_up(self._database, self._ground, everything=everything, tell=tell)
        except OSError:
            # Not there (yet), or a disk pulled out: what the index has of it stays.
            return Changes()

    def _ask(self, question: Callable[[Connection], T]) -> T:
        return self._and_mend(lambda: self._database.read(question))

    def _and_mend(self, work: Callable[[], T]) -> T:
        """Do `work`; a broken file is made again, and a server that went away is done without.

        A server's tables belong to other benches too: what is missing is made, but only `rebuild`
        makes again what is there.
        """
        try:
            return work()
        except ServerAway as error:
            self._without_server(error)
        except IndexBroken:
            if self._database.shared:
                self._database.make_tables()
            else:
                self._begin_anew()
        self._catch_up()
        return work()

    def _without_server(self, error: ServerAway) -> None:
        """Go on with this bench's own runs, indexed in the file on its shelf."""
        self._database.close()
        self._away, self.away = error, f"{AWAY} {error}"
        self._database = local_database(self.folder)
        self._ground = local_ground(self.folder)

    def _is_broken(self) -> bool:
        try:
            self._database.check()
        except IndexBroken:
            return True
        return False

    def _begin_anew(self) -> None:
        if self._database.shared:
            self._database.make_tables(anew=True)
            return
        self._database.close()
        self._database = local_database(self.folder, anew=True)


def open_shelf(folder: Path, url: str | None = None, *, refresh: bool = True) -> Shelf:
    """Open the shelf in `folder`, indexed by the server at `url`, else by a file in it.

    Where the server is away the shelf goes on with this bench's own runs, and `away` says so.
    `refresh`: first note what is new.

    Raises:
        ShelfError: If the index cannot be used.
    """
    shelf = _opened(typed_path(folder).absolute(), url)
    if refresh:
        try:
            shelf.refresh()
        except BaseException:
            shelf.close()
            raise
    return shelf


def _opened(folder: Path, url: str | None) -> Shelf:
    if url is None:
        return Shelf(folder, local_database(folder), local_ground(folder))
    return Shelf(folder, server_database(url), shared_ground(folder))


def local_database(folder: Path, *, anew: bool = False) -> Database:
    """The index file on the shelf; in memory where the shelf cannot be written to."""
    if not folder.is_dir():
        return memory_database()
    for again in (anew, True):
        try:
            if again:
                remove_index_file(folder)
            return file_database(folder)
        except IndexBroken:
            continue
        except (OSError, ShelfError):
            break
    return memory_database()


def _entry_at(folder: Path) -> RunEntry:
    found = read_entry(local_ground(folder.parent), folder.name)
    if isinstance(found, SetAside):
        raise ShelfError(found.problem)
    return found
