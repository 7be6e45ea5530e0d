"""The questions put to the index."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, and_, func, or_, select, tuple_

from acquire.shelf.conditions import Conditions, conditions, counted_wholly
from acquire.shelf.entry import COLUMNS, RunEntry, SetAside
from acquire.shelf.search_keys import after_all_with, last_letters, search_key
from acquire.shelf.tables import aside, runs
from acquire.shelf.wanted import Wanted

ALL_COLUMNS = [runs.c[name] for name in COLUMNS]
NEWEST_FIRST = (runs.c.began_utc.desc(), runs.c.run_id.desc())
OLDEST_FIRST = (runs.c.began_utc, runs.c.run_id)
AT_ONCE = 500
FAR = 5000
COUNTED = 1000


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
    if offset > FAR:
        return _far_page_of(connection, wanted, limit=limit, offset=offset)
    where = conditions(connection, wanted)
    sqlite = connection.dialect.name == "sqlite"
    if sqlite and not counted_wholly(wanted, sqlite=True):
        found, count = _found_and_counted(connection, where, limit=limit, offset=offset)
        return by_ids(connection, found), count
    found = _ids(connection, where, limit=limit, offset=offset)
    if 0 < len(found) < limit or (not found and offset == 0):
        count = Count(offset + len(found))
    else:
        # Past the end there are no more than that: they are told exactly.
        count = count_of(connection, wanted, up_to=COUNTED if found else max(COUNTED, offset))
    return by_ids(connection, found), count


def _found_and_counted(
    connection: Connection, where: Conditions, *, limit: int, offset: int
) -> tuple[list[str], Count]:
    """Both in one go: a search for something rare may read a whole index."""
    most = max(COUNTED + 1, offset + limit)
    ids = _ids(connection, where, limit=most, offset=0)
    count = Count(len(ids)) if len(ids) < most else Count(COUNTED, exact=False)
    return ids[offset : offset + limit], count


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


def count_of(connection: Connection, wanted: Wanted, *, up_to: int = COUNTED) -> Count:
    """How many runs are `wanted`.

    Where more than one index has to be asked, counting ends after a number that nobody pages
    through.
    """
    where, sqlite = conditions(connection, wanted), connection.dialect.name == "sqlite"
    if counted_wholly(wanted, sqlite=sqlite):
        query = select(func.count()).select_from(runs).where(*where)
        return Count(connection.execute(query).scalar_one())
    some = select(runs.c.run_id).where(*where).limit(up_to + 1)
    if sqlite:
        some = some.order_by(*NEWEST_FIRST)  # so that it reads the index, not the whole table
    count = connection.execute(select(func.count()).select_from(some.subquery())).scalar_one()
    return Count(min(count, up_to), exact=count <= up_to)


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
    if not name:
        return []
    exact = or_(runs.c.run_id == name, runs.c.folder == name)
    found = connection.execute(select(*ALL_COLUMNS).where(exact)).all()
    if not found:
        near = or_(
            and_(runs.c.run_id >= name, runs.c.run_id < after_all_with(name)),
            and_(
                runs.c.last_letters == last_letters(name),
                runs.c.run_id.endswith(f"-{name}", autoescape=True),
            ),
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
