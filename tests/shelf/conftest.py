"""A server for the tests that need one."""

from __future__ import annotations

import itertools
import os
from collections.abc import Iterator

import pytest

from tests.shelf.postgres_server import PostgresServer, binaries, running

_number = itertools.count(1)


@pytest.fixture(scope="session")
def server() -> Iterator[PostgresServer]:
    """A real PostgreSQL server; without one the test is skipped, but never by the whole check."""
    if binaries() is None:
        reason = "no PostgreSQL server here: apt-get install postgresql"
        if os.environ.get("STEADYAMPS_CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    pytest.importorskip("psycopg", reason="the driver is missing: pip install psycopg[binary]")
    with running() as server:
        yield server


@pytest.fixture
def server_url(server: PostgresServer) -> str:
    """An empty database on it."""
    name = f"shelf_{next(_number)}"
    server.sql(f"CREATE DATABASE {name}")
    return server.url(database=name)
