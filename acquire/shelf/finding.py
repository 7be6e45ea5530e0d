"""The questions put to the index."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Column, ColumnElement, Connection, Row, and_, func, or_, select, tuple_

from acquire.shelf.entry import COLUMNS, RunEntry, SetAside
from acquire.shelf.reading import clean
from acquire.shelf.search_keys import after_all_with, folded, search_key
from acquire.shelf.tables import aside, runs
from acquire.shelf.wanted import Wanted, day_after, first_day

ALL_COLUMNS = [runs.c[name] for name in COLUMNS]
NEWEST_FIRST = (runs.c.began_utc.desc(), runs.c.run_id.desc())
OLDEST_FIRST = (runs.c.began_utc, runs.c.run_id)
AT_ONCE = 500
FAR = 5000
COUNTED = 1000
MOST_NAMES = 2000


Conditions = list[ColumnElement[bool]]


def conditions(connection: Connection, wanted: Wanted) -> Conditions:
    """`wanted` in the database's terms."""
    found = [*_beginnings(wanted), *_dates(wanted), *_words(wanted)]
    if wanted.outcomes:
        found.append(or_(*(_outcome(one) for one in wanted.outcomes)))
    if wanted.stage:
        found.append(runs.c.stage_key == _as_kept(wanted.stage))
    if wanted.simulated is not None:
        found.append(runs.c.simulated.is_(wanted.simulated))
    if wanted.rated.strip():
        found.append(_rated(connection, _as_kept(wanted.rated).split()))
    return found


def _as_kept(typed: str) -> str:
    """Text as the index keeps it: what a database or a terminal cannot bear is spelled out."""
    return folded(clean(typed))


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
    """Words are looked for in `words` first, which an index holds in order of date; only what
    passes there is looked at more closely."""
    unit = _as_kept(wanted.unit).split()
    for word in (*_as_kept(wanted.text).split(), *unit):
        yield _holds(runs.c.words, word)
    for word in unit:
        yield _holds(runs.c.unit_key, word)


def _rated(connection: Connection, words: Sequence[str]) -> ColumnElement[bool]:
    """A workshop tests against few rated profiles: they are looked through, not the runs."""
    names = rated_names(connection)
    if len(names) > MOST_NAMES:
        return and_(*(_holds(runs.c.rated_key, word) for word in words))
    return runs.c.rated_key.in_([one for one in names if all(word in one for word in words)])


def rated_names(connection: Connection) -> list[str]:
    """Each rated profile that a run was judged by, once; at most `MOST_NAMES` and one more.

    Every step of the recursion is one look into the index: the next name after the last.
    """
    names = select(func.min(runs.c.rated_key).label("name")).cte("names", recursive=True)
    following = select(func.min(runs.c.rated_key)).where(runs.c.rated_key > names.c.name)
    names = names.union_all(
        select(following.correlate(names).scalar_subquery()).where(names.c.name.is_not(None))
    )
    query = select(names.c.name).where(names.c.name.is_not(None)).limit(MOST_NAMES + 1)
    return list(connection.execute(query).scalars())


def _holds(column: Column[Any], word: str) -> ColumnElement[bool]:
    if any(sign in word for sign in "%_/"):
        return column.contains(word, autoescape=True)
    return column.like(f"%{word}%")


def _outcome(outcome: str) -> ColumnElement[bool]:
    if outcome == "not finished":
        return and_(runs.c.outcome == "", runs.c.state == "running")
    if outcome == "no verdict":
        return and_(runs.c.outcome == "", runs.c.state != "running")
    return runs.c.outcome == outcome


@dataclass(frozen=True, slots=True)
class Count:
    """How many runs there are."""

    runs: int
    exact: bool = True
    """False: there are more than that; they were not all counted."""


def page_of(
    connection: Connection, wanted: Wanted, *, limit: int, offset: int
) -> tuple[list[RunEntry], Count]:
    """One page, newest first, and how many runs there are in all."""
    where = conditions(connection, wanted)
    if offset > FAR:
        return _far_page_of(connection, wanted, limit=limit, offset=offset)
    found = _ids(connection, where, limit=limit, offset=offset)
    if 0 < len(found) < limit or (not found and offset == 0):
        count = Count(offset + len(found))
    else:
        count = count_of(connection, wanted)
    return by_ids(connection, found), count


def _far_page_of(
    connection: Connection, wanted: Wanted, *, limit: int, offset: int
) -> tuple[list[RunEntry], Count]:
    """Deep in a long list: from the end, where that is nearer."""
    count, where = count_of(connection, wanted), conditions(connection, wanted)
    after = count.runs - offset - limit
    if not count.exact or after > offset:
        found = _ids(connection, where, limit=limit, offset=offset)
    else:
        size = limit + min(after, 0)
        found = _ids(connection, where, limit=size, offset=max(after, 0), oldest=True)[::-1]
    return by_ids(connection, found), count


def _ids(
    connection: Connection, where: Conditions, *, limit: int, offset: int, oldest: bool = False
) -> list[str]:
    if limit <= 0:
        return []
    order = OLDEST_FIRST if oldest else NEWEST_FIRST
    query = select(runs.c.run_id).where(*where).order_by(*order)
    return list(connection.execute(query.limit(limit).offset(offset)).scalars())


def count_of(connection: Connection, wanted: Wanted) -> Count:
    """How many runs are `wanted`.

    Where every run may have to be looked at for words, counting ends after a number that nobody
    pages through.
    """
    where = conditions(connection, wanted)
    if not (wanted.text or wanted.unit):
        query = select(func.count()).select_from(runs).where(*where)
        return Count(connection.execute(query).scalar_one())
    some = select(runs.c.run_id).where(*where).limit(COUNTED + 1)
    if connection.dialect.name == "sqlite":
        some = some.order_by(*NEWEST_FIRST)  # so that it reads the index, not the whole table
    count = connection.execute(select(func.count()).select_from(some.subquery())).scalar_one()
    return Count(min(count, COUNTED), exact=count <= COUNTED)


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
    query = select(*ALL_COLUMNS).where(*conditions(connection, wanted))
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


def set_aside_named(connection: Connection, shelf: str, name: str) -> list[SetAside]:
    """Folders of this shelf that are not listed, be it as copies, and that `name` may mean."""
    near = or_(
        aside.c.folder.startswith(name, autoescape=True),
        aside.c.folder.endswith(f"-{name}", autoescape=True),
    )
    query = select(aside).where(aside.c.shelf == shelf, near).order_by(aside.c.folder).limit(20)
    return [SetAside(**row._mapping) for row in connection.execute(query)]


def last_of(connection: Connection, serial: str, *, simulated: bool) -> RunEntry | None:
    """The newest whole run of this very serial, however it is written."""
    key = search_key(serial)
    query = select(*ALL_COLUMNS).where(
        runs.c.serial_key == key, runs.c.state == "complete", runs.c.simulated.is_(simulated)
    )
    row = connection.execute(query.order_by(*NEWEST_FIRST).limit(1)).first() if key else None
    return None if row is None else entry_from(row)


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
