"""The tables of the index. Imported only where the database is used.

Their names carry the schema's number: a program of another schema makes its own tables beside
these and fills them from the run folders, and neither hurts the other.
"""

from __future__ import annotations

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

INDEX_SCHEMA = 1

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

Index(f"shelf_runs_{INDEX_SCHEMA}_by_date", runs.c.began_utc, runs.c.run_id, runs.c.words)
Index(f"shelf_runs_{INDEX_SCHEMA}_by_serial", runs.c.serial_key, runs.c.began_utc)
Index(f"shelf_runs_{INDEX_SCHEMA}_by_job", runs.c.job_key, runs.c.began_utc)
Index(f"shelf_runs_{INDEX_SCHEMA}_by_unit", runs.c.same_unit_key)
Index(f"shelf_runs_{INDEX_SCHEMA}_by_outcome", runs.c.outcome, runs.c.began_utc)
Index(f"shelf_runs_{INDEX_SCHEMA}_by_stage", runs.c.stage_key, runs.c.began_utc)
Index(f"shelf_runs_{INDEX_SCHEMA}_by_rated", runs.c.rated_key, runs.c.began_utc)
Index(f"shelf_runs_{INDEX_SCHEMA}_by_folder", runs.c.shelf, runs.c.folder)
Index(f"shelf_runs_{INDEX_SCHEMA}_open", runs.c.shelf, sqlite_where=runs.c.may_change,
      postgresql_where=runs.c.may_change)  # fmt: skip

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
