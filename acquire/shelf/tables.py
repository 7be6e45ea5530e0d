"""The tables of the index. Imported only where the database is used.

Their names carry the schema's number: a program of another schema makes its own tables beside
these and fills them from the run folders, and neither hurts the other.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Double,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
)
from sqlalchemy.types import TypeEngine

INDEX_SCHEMA = 2

ONLY_IN = "only_in"
"""For an index: the only kind of database that has it; empty for all."""

metadata = MetaData()


def by_code_points(length: int) -> TypeEngine[str]:
    """Text that sorts by code points whatever the database's language, so that a range finds a
    prefix. Databases that only speak PostgreSQL's protocol sort like this by themselves."""
    return String(length).with_variant(String(length, collation="C"), "postgresql")


def _key(name: str, length: int) -> Column[str]:
    return Column(name, by_code_points(length), nullable=False)


def _name(name: str) -> Column[str]:
    return Column(name, String(250))


runs = Table(
    f"shelf_runs_{INDEX_SCHEMA}",
    metadata,
    Column("run_id", by_code_points(200), primary_key=True),
    _key("last_letters", 80),
    _key("began_utc", 40),
    _key("serial_key", 80),
    _key("job_key", 80),
    _key("same_unit_key", 200),
    _key("stage_key", 250),
    _key("rated_key", 250),
    Column("words", Text, nullable=False),
    Column("unit_key", Text, nullable=False),
    Column("outcome", String(250), nullable=False),
    Column("state", String(20), nullable=False),
    Column("simulated", Boolean, nullable=False),
    Column("may_change", Boolean, nullable=False),
    Column("shelf", String(80), nullable=False),
    Column("folder", Text, nullable=False),
    Column("place", Text, nullable=False),
    Column("bench", String(250), nullable=False),
    Column("stamp", String(120), nullable=False),
    Column("ended_utc", String(40)),
    *(_name(name) for name in ("serial", "unit", "job_number", "customer", "fitted_to")),
    Column("complaint", Text),
    Column("parts_fitted", Text),
    *(_name(name) for name in ("claim", "stage", "operator", "rig", "rated", "method", "rule")),
    Column("points", Integer),
    *(Column(name, Double) for name in ("top_amps", "top_rpm", "least_margin_amps", "p_all")),
    Column("cut_in_rpm", Double),
    Column("reason", Text, nullable=False),
    Column("findings", Text, nullable=False),
)


def _index(name: str, *columns: Column[Any], only_in: str = "", **more: Any) -> None:  # noqa: ANN401
    Index(f"{runs.name}_{name}", *columns, info={ONLY_IN: only_in}, **more)


# In SQLite two indexes in order of date hold all that a search may look at, so that none reads the
# table; the narrow one is for questions without words. In PostgreSQL a line of an index has its
# bounds, and the planner knows what is rare.
_AT_ONCE = (runs.c.simulated, runs.c.outcome, runs.c.state, runs.c.stage_key, runs.c.serial_key,
            runs.c.job_key, runs.c.rated_key)  # fmt: skip
_index("by_date", runs.c.began_utc, runs.c.run_id, runs.c.words, only_in="postgresql")
_index("by_date", runs.c.began_utc, runs.c.run_id, *_AT_ONCE, only_in="sqlite")
_index("by_date_and_words", runs.c.began_utc, runs.c.run_id, runs.c.words, runs.c.unit_key,
       *_AT_ONCE, only_in="sqlite")  # fmt: skip
_index("by_serial", runs.c.serial_key, runs.c.began_utc)
_index("by_job", runs.c.job_key, runs.c.began_utc)
_index("by_unit", runs.c.same_unit_key)
_index("by_outcome", runs.c.outcome, runs.c.began_utc)
_index("by_stage", runs.c.stage_key, runs.c.began_utc)
_index("by_rated", runs.c.rated_key, runs.c.began_utc)
_index("by_kind", runs.c.simulated, runs.c.began_utc)
_index("by_letters", runs.c.last_letters)
_index("by_folder", runs.c.shelf, runs.c.folder)
_index("by_name", runs.c.folder)
_index("open", runs.c.shelf, sqlite_where=runs.c.may_change, postgresql_where=runs.c.may_change)


def indexes_of(table: Table, dialect: str) -> list[Index]:
    """The indexes a table has in this kind of database, by name."""
    made = (one for one in table.indexes if one.info.get(ONLY_IN, "") in ("", dialect))
    return sorted(made, key=lambda one: str(one.name))


aside = Table(
    f"shelf_aside_{INDEX_SCHEMA}",
    metadata,
    Column("shelf", String(80), primary_key=True),
    Column("folder", by_code_points(500), primary_key=True),
    Column("place", Text, nullable=False),
    Column("bench", String(250), nullable=False),
    Column("stamp", String(120), nullable=False),
    Column("run_id", by_code_points(200), nullable=False),
    Column("problem", Text, nullable=False),
)

seen = Table(
    f"shelf_seen_{INDEX_SCHEMA}",
    metadata,
    Column("shelf", String(80), primary_key=True),
    Column("bench", String(250), primary_key=True),
    Column("changed_ns", BigInteger),
)
"""When each bench last compared a shelf with the index: the folder's own time of change then."""
