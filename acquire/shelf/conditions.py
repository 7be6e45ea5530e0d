"""What is wanted, in the database's terms, and by which index it is looked for.

SQLite knows nothing of how many runs pass a condition; left alone it fetches and sorts all that
begin with one letter, rather than take the newest. So it is told: by a condition that few runs
pass, else in order of date, where one index holds all that conditions look at.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Column, ColumnElement, Connection, and_, func, or_, select
from sqlalchemy.sql.expression import UnaryExpression
from sqlalchemy.sql.operators import custom_op

from acquire.shelf.reading import clean
from acquire.shelf.search_keys import after_all_with, folded, search_key
from acquire.shelf.tables import runs
from acquire.shelf.wanted import Wanted, day_after, first_day

FEW = 3000
"""So many runs are fetched and sorted in a few milliseconds."""
MOST_NAMES = 2000
Conditions = list[ColumnElement[bool]]


@dataclass(frozen=True, slots=True)
class _Names:
    """The rated profiles meant; None: there are too many of them to be listed."""

    words: Sequence[str]
    listed: Sequence[str] | None


def conditions(connection: Connection, wanted: Wanted) -> Conditions:
    """`wanted` in the database's terms, so that the best index is used."""
    names = _names(connection, wanted)
    kinds = _kinds(wanted, names, {})
    if connection.dialect.name != "sqlite":
        by = ""
    else:
        by = _best_index(connection, wanted, kinds, names)
        kinds = _kinds(wanted, names, {kind: by in ("", kind) for kind in kinds})
    with_date = by in ("", "date", *_EQUAL)
    return [*kinds.values(), *_dates(wanted, may_lead=with_date), *_words(wanted)]


_EQUAL = ("outcome", "stage", "simulated")
"""Their indexes are in order of date for each value."""


def counted_wholly(wanted: Wanted, *, sqlite: bool) -> bool:
    """True where one index alone tells how many there are, and soon.

    PostgreSQL looks at the table for each run all the same: there only what is equal is counted.
    """
    typed = (wanted.serial.strip(), wanted.job.strip(), wanted.rated.strip(), wanted.stage)
    kinds = [*map(bool, typed), bool(wanted.outcomes), wanted.simulated is not None]
    by_state = {"not finished", "no verdict"} & set(wanted.outcomes)
    if by_state or wanted.text or wanted.unit:
        return False
    many = any(typed[:3]) or len(wanted.outcomes) > 1 or wanted.simulated is not None
    return sum(kinds) <= 1 and (sqlite or not many)


def _best_index(
    connection: Connection, wanted: Wanted, kinds: Mapping[str, ColumnElement[bool]], names: _Names
) -> str:
    """The kind of condition to look by; `date` where many runs pass each of them."""
    only = next(iter(kinds), "") if len(kinds) == 1 else ""
    if only in _EQUAL and len(wanted.outcomes) <= 1 and not (wanted.text or wanted.unit):
        return only
    for kind, condition in kinds.items():
        if kind == "rated" and names.listed is None:
            continue
        some = select(runs.c[f"{kind}_key" if kind in _KEYS else kind]).where(condition)
        passing = select(func.count()).select_from(some.limit(FEW + 1).subquery())
        if connection.execute(passing).scalar_one() <= FEW:
            return kind
    return "date"


_KEYS = ("serial", "job", "stage", "rated")


def _kinds(
    wanted: Wanted, names: _Names, may_lead: Mapping[str, bool]
) -> dict[str, ColumnElement[bool]]:
    """Each condition that has an index, by its kind; those that shall not lead hide from theirs."""

    def column(kind: str) -> ColumnElement[Any]:
        found = runs.c[f"{kind}_key" if kind in _KEYS else kind]
        return found if may_lead.get(kind, True) else _hidden(found)

    kinds = {
        kind: _begins(column(kind), typed)
        for kind, typed in (("serial", wanted.serial), ("job", wanted.job))
        if typed.strip()
    }
    if wanted.rated.strip():
        kinds["rated"] = _rated(column("rated"), names)
    if wanted.outcomes:
        kinds["outcome"] = or_(*(_outcome(column("outcome"), one) for one in wanted.outcomes))
    if wanted.stage:
        kinds["stage"] = column("stage") == _as_kept(wanted.stage)
    if wanted.simulated is not None:
        kinds["simulated"] = column("simulated").is_(wanted.simulated)
    return kinds


def _hidden(column: Column[Any]) -> ColumnElement[Any]:
    """The column's value: SQLite looks into no index for it (its manual, "query planner", 4)."""
    return UnaryExpression(column, operator=custom_op("+"), type_=column.type)


def _as_kept(typed: str) -> str:
    """Text as the index keeps it: what a database or a terminal cannot bear is spelled out."""
    return folded(clean(typed))


def _begins(column: ColumnElement[Any], typed: str) -> ColumnElement[bool]:
    key = search_key(typed)
    # Nothing but signs was typed: no serial is meant by it.
    return and_(column >= key, column < after_all_with(key)) if key else column == "?"


def _dates(wanted: Wanted, *, may_lead: bool) -> Iterator[ColumnElement[bool]]:
    began = runs.c.began_utc if may_lead else _hidden(runs.c.began_utc)
    if wanted.since:
        yield began >= first_day(wanted.since).isoformat()
    if wanted.until and (day := day_after(wanted.until)):
        yield began < day


def _words(wanted: Wanted) -> Iterator[ColumnElement[bool]]:
    """Words are looked for in `words` first, which an index holds in order of date; only what
    passes there is looked at more closely."""
    unit = _as_kept(wanted.unit).split()
    for word in (*_as_kept(wanted.text).split(), *unit):
        yield _holds(runs.c.words, word)
    for word in unit:
        yield _holds(runs.c.unit_key, word)


def _names(connection: Connection, wanted: Wanted) -> _Names:
    """A workshop tests against few rated profiles: they are looked through, not the runs."""
    words = _as_kept(wanted.rated).split()
    names = rated_names(connection) if words else []
    if len(names) > MOST_NAMES:
        return _Names(words, None)
    return _Names(words, [one for one in names if all(word in one for word in words)])


def _rated(column: ColumnElement[Any], names: _Names) -> ColumnElement[bool]:
    if names.listed is None:
        return and_(*(_holds(column, word) for word in names.words))
    return column.in_(names.listed)


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


def _holds(column: ColumnElement[Any], word: str) -> ColumnElement[bool]:
    if any(sign in word for sign in "%_/"):
        return column.contains(word, autoescape=True)
    return column.like(f"%{word}%")


def _outcome(column: ColumnElement[Any], outcome: str) -> ColumnElement[bool]:
    if outcome == "not finished":
        return and_(column == "", runs.c.state == "running")
    if outcome == "no verdict":
        return and_(column == "", runs.c.state != "running")
    return column == outcome
