"""The tables as SQL, as this program makes them: what server.sql must hold."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy.dialects.postgresql.psycopg import dialect
from sqlalchemy.schema import CreateIndex, CreateTable

from acquire.shelf import tables
from acquire.shelf.tables import metadata

SERVER_SQL = Path(tables.__file__).with_name("server.sql")


def tables_sql() -> str:
    """The statements that make tables and indexes, as this program makes them."""
    made_for = dialect()  # type: ignore[no-untyped-call]
    lines = []
    for table in metadata.sorted_tables:
        lines.append(str(CreateTable(table).compile(dialect=made_for)))
        ordered = tables.indexes_of(table, "postgresql")
        lines += [str(CreateIndex(index).compile(dialect=made_for)) for index in ordered]
    return "".join(f"{_tidy(line)};\n" for line in lines)


def _tidy(statement: str) -> str:
    lines = (line.rstrip().replace("\t", "  ") for line in statement.strip().splitlines())
    return "\n".join(line for line in lines if line)
