"""The questions put to the index."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from sqlalchemy import Column, ColumnElement, Connection, Row, and_, func, or_, select, tuple_

from acquire.shelf.entry import COLUMNS, RunEntry, SetAside
from acquire.shelf.search_keys import after_all_with, folded, search_key
from acquire.shelf.tables import aside, runs
from acquire.shelf.wanted import Wanted, day_after, first_day

ALL_COLUMNS = [runs.c[name] for name in COLUMNS]
NEWEST_FIRST = (runs.c.began_utc.desc(), runs.c.run_id.desc())
AT_ONCE = 500


def conditions(wanted: Wanted) -> list[ColumnElement[bool]]:
    """`wanted` in the database's terms.

    Words are looked for in `words` first, which an index holds in order of date; only what passes
    there is looked at more closely.
    """
    found = [*_beginnings(wanted), *_dates(wanted), *_words(wanted)]
    if wanted.outcomes:
        found.append(or_(*(_outcome(one) for one in wanted.outcomes)))
    if wanted.stage:
        found.append(runs.c.stage_key == folded(wanted.stage))
    if wanted.simulated is not None:
        found.append(runs.c.simulated.is_(wanted.simulated))
    return found


def _beginnings(wanted: Wanted) -> Iterator[ColumnElement[bool]]:
    for typed, column in ((wanted.serial, runs.c.serial_key), (wanted.job, runs.c.job_key)):
        if not typed.strip():
            continue
        key = search_key(typed)
        # Nothing but signs was typed: no serial is meant by it.
        yield and_(column >= key, column < after_all_with(key)) if key else column == "?"


def _dates(wanted: Wanted) -> Iterator[ColumnElement[bool]]:
    if wanted.since:
        yield runs.c.began_utc >= first_day(wanted.since).isoformat()
    if wanted.until and (day := day_after(wanted.until)):
        yield runs.c.began_utc < day


def _words(wanted: Wanted) -> Iterator[ColumnElement[bool]]:
    for typed in (wanted.text, wanted.unit, wanted.rated):
        yield from (_holds(runs.c.words, word) for word in folded(typed).split())
    for typed, column in ((wanted.unit, runs.c.unit_key), (wanted.rated, runs.c.rated_key)):
        yield from (_holds(column, word) for word in folded(typed).split())


def _holds(column: Column[Any], word: str) -> ColumnElement[bool]:
    return column.contains(word, autoescape=True)


def _outcome(outcome: str) -> ColumnElement[bool]:
    if outcome == "not finished":
        return and_(runs.c.outcome == "", runs.c.state == "running")
    if outcome == "no verdict":
        return and_(runs.c.outcome == "", runs.c.state != "running")
    return runs.c.outcome == outcome


def page_of(
    connection: Connection, wanted: Wanted, *, limit: int, offset: int
) -> tuple[list[RunEntry], int]:
    """One page, newest first, and how many runs there are in all."""
    where = conditions(wanted)
    ids = select(runs.c.run_id).where(*where).order_by(*NEWEST_FIRST).limit(limit).offset(offset)
    found = list(connection.execute(ids).scalars())
    if 0 < len(found) < limit or (not found and offset == 0):
        total = offset + len(found)
    else:
        total = count_of(connection, wanted)
    return by_ids(connection, found), total


def count_of(connection: Connection, wanted: Wanted) -> int:
    """How many runs are `wanted`."""
    count = select(func.count()).select_from(runs).where(*conditions(wanted))
    return connection.execute(count).scalar_one()


def by_ids(connection: Connection, ids: Sequence[str]) -> list[RunEntry]:
    """The runs of these ids, in this order; one that is gone meanwhile is left out."""
    found = {
        row.run_id: entry_from(row)
        for some in chunks(ids)
        for row in connection.execute(select(*ALL_COLUMNS).where(runs.c.run_id.in_(some)))
    }
    return [found[one] for one in ids if one in found]


def next_of(connection: Connection, wanted: Wanted, after: RunEntry | None) -> list[RunEntry]:
    """The next runs after one, newest first: for reading all of them in pieces."""
    query = select(*ALL_COLUMNS).where(*conditions(wanted))
    if after is not None:
        place = tuple_(runs.c.began_utc, runs.c.run_id)
        query = query.where(place < (after.began_utc, after.run_id))
    query = query.order_by(*NEWEST_FIRST).limit(AT_ONCE)
    return [entry_from(row) for row in connection.execute(query)]


def named(connection: Connection, name: str) -> list[RunEntry]:
    """Runs whose id or folder is `name`, begins so, or ends with it as the four letters do."""
    exact = or_(runs.c.run_id == name, runs.c.folder == name)
    found = connection.execute(select(*ALL_COLUMNS).where(exact)).all()
    if not found:
        near = or_(
            runs.c.run_id.startswith(name, autoescape=True),
            runs.c.run_id.endswith(f"-{name}", autoescape=True),
        )
        query = select(*ALL_COLUMNS).where(near).order_by(*NEWEST_FIRST).limit(20)
        found = connection.execute(query).all()
    return [entry_from(row) for row in found]


def of_same_units(connection: Connection, keys: Iterable[str]) -> list[RunEntry]:
    """Every whole run of these units, oldest first."""
    found = [
        entry_from(row)
        for some in chunks(sorted({key for key in keys if key}))
        for row in connection.execute(
            select(*ALL_COLUMNS).where(runs.c.same_unit_key.in_(some), runs.c.state == "complete")
        )
    ]
    return sorted(found, key=lambda one: (one.began_utc, one.run_id))


def set_aside_in(connection: Connection) -> list[SetAside]:
    """Folders that cannot be read, by name."""
    query = select(aside).where(aside.c.run_id == "").order_by(aside.c.folder)
    return [SetAside(**row._mapping) for row in connection.execute(query)]


def entry_from(row: Row[Any]) -> RunEntry:
    """A row of the table as what it means."""
    return RunEntry(**row._mapping)


def chunks(items: Sequence[str]) -> Iterator[Sequence[str]]:
    """Pieces small enough for one statement."""
    for first in range(0, len(items), AT_ONCE):
        yield items[first : first + AT_ONCE]
