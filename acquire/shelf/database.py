"""The database behind the index: a file on the shelf, or a server for several benches.

Everything goes through `Database.read` and `Database.write`: short transactions that are tried
again where another writer was in the way, so they may run more than once.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from sqlalchemy import URL, Connection, Engine, create_engine, event, select
from sqlalchemy.exc import DBAPIError, NoSuchModuleError, SQLAlchemyError
from sqlalchemy.pool import StaticPool
from sqlalchemy.schema import CreateIndex, CreateTable

from acquire.shelf.errors import IndexBroken, ShelfError
from acquire.shelf.server_trouble import NOT_ANSWERED, server_trouble
from acquire.shelf.server_url import PACKAGES, checked_url, patience, shown_place, shown_url
from acquire.shelf.tables import aside, indexes_of, metadata, runs, seen
from profiles.plain_text import visible

if TYPE_CHECKING:
    from sqlalchemy.engine.interfaces import DBAPIConnection, Dialect
    from sqlalchemy.pool import ConnectionPoolEntry

    from acquire.shelf.patient_connection import PatientConnection

KEPT_IN = ".shelf"
"""Hidden folder on the shelf: what comes and goes beside the index does not change the shelf's
own time, which tells whether runs have come or gone."""
INDEX_FILE = f"{KEPT_IN}/index.sqlite"
BESIDE = ("", "-wal", "-shm", "-journal")
BUSY_S = 5.0
MAKE_ANEW = "`steadyamps shelf rebuild` makes it again."
TRIES = 8
FIRST_PAUSE_S = 0.01
T = TypeVar("T")

# Class 40 of the SQL standard: the transaction was rolled back, and may be tried again.
# Distributed databases answer so as a matter of course where two writers meet.
_SQLITE_BUSY = frozenset({"SQLITE_BUSY", "SQLITE_LOCKED"})
_TRY_AGAIN = frozenset({"40001", "40P01", "40003"}) | _SQLITE_BUSY
# Somebody made the same table at the same moment: `if not exists` alone does not save from that.
_MADE_MEANWHILE = frozenset({"42P07", "42710", "23505"})
_SQLITE_UNUSABLE = frozenset({"SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH"})
_SQLITE_DISK = frozenset({"SQLITE_FULL", "SQLITE_IOERR"})


class Database:
    """An open database; `close` it."""

    def __init__(self, engine: Engine, *, name: str) -> None:
        """Use `file_database`, `memory_database` or `server_database`."""
        self.engine = engine
        self.reading = engine
        if engine.dialect.name != "sqlite":
            self.reading = engine.execution_options(isolation_level="AUTOCOMMIT")
        self.name = name
        """What to call it in a message; never with a password."""

    @property
    def shared(self) -> bool:
        """True for a server, where other benches note runs too."""
        return self.engine.dialect.name != "sqlite"

    def read(self, work: Callable[[Connection], T]) -> T:
        """Ask something; each statement stands by itself, which spares a server two messages.

        Raises:
            ServerAway: If the server does not answer.
            IndexBroken: If the index has to be made again.
            ShelfError: If it cannot be used otherwise.
        """
        return self._done(work, self.reading, _TRY_AGAIN)

    def write(self, work: Callable[[Connection], T], *, again: frozenset[str] = _TRY_AGAIN) -> T:
        """Change something in one transaction, again where another writer was in the way.

        Raises:
            ServerAway, IndexBroken, ShelfError: As `read`.
        """
        return self._done(work, self.engine, again)

    def _done(self, work: Callable[[Connection], T], engine: Engine, again: frozenset[str]) -> T:
        for turn in range(TRIES):
            try:
                with engine.begin() as connection:
                    return work(connection)
            except DBAPIError as error:
                # A connection that was open for a while may have been lost long ago.
                lost = error.connection_invalidated and turn == 0 and not _unanswered(error)
                if turn == TRIES - 1 or not (lost or _sqlstate(error) in again):
                    raise self._told(error) from error
                # By chance, so that two who met do not meet again.
                time.sleep(FIRST_PAUSE_S * 2**turn * (0.5 + random.random()))
            except SQLAlchemyError as error:
                raise IndexBroken(
                    f"{self.name} cannot be used: {_words(error)}.", what_to_do=MAKE_ANEW
                ) from error
        raise AssertionError("the last try returns or raises")

    def check(self) -> None:
        """See that every table is there with every column.

        Raises:
            IndexBroken, ServerAway, ShelfError: As `read`.
        """

        def look(connection: Connection) -> None:
            for table in (runs, aside, seen):
                connection.execute(select(table).limit(0))

        self.read(look)

    def make_tables(self, *, anew: bool = False) -> None:
        """Make the tables that are missing; `anew`: after throwing away those that are there."""

        def make(connection: Connection) -> None:
            if anew:
                metadata.drop_all(connection)
            for table in metadata.sorted_tables:
                connection.execute(CreateTable(table, if_not_exists=True))
                for index in indexes_of(table, connection.dialect.name):
                    connection.execute(CreateIndex(index, if_not_exists=True))

        self.write(make, again=_TRY_AGAIN | _MADE_MEANWHILE)

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()

    def _told(self, error: DBAPIError) -> ShelfError:
        state = _sqlstate(error)
        if self.shared:
            lost = error.connection_invalidated
            return server_trouble(self.name, _words(error), state, lost=lost)
        words = f"{self.name} cannot be used: {_words(error)}."
        if state in _SQLITE_BUSY:
            return ShelfError(words, what_to_do="Another program is writing to it: try again.")
        if state in _SQLITE_UNUSABLE or state.startswith(tuple(_SQLITE_DISK)):
            return ShelfError(words, what_to_do="Check the disk and the rights of the folder.")
        return IndexBroken(words, what_to_do=MAKE_ANEW)


def _sqlstate(error: DBAPIError) -> str:
    """The error's code: five signs of the SQL standard, or SQLite's own word; else empty."""
    orig = error.orig
    for name in ("sqlstate", "pgcode", "sqlite_errorname"):
        code = getattr(orig, name, None)
        if isinstance(code, str):
            return code
    return ""


def _unanswered(error: DBAPIError) -> bool:
    """True where the bench ran out of patience: asked once more, it would wait twice as long."""
    return NOT_ANSWERED in str(error.orig)


def _words(error: SQLAlchemyError) -> str:
    orig = getattr(error, "orig", None) or error
    return " ".join(visible(" ".join(str(orig).split()))[:300].rstrip(". ").split())


# ---- a file on the shelf -------------------------------------------------------------------


def file_database(folder: Path) -> Database:
    """The index file in `folder`, made where it is missing.

    Raises:
        OSError, IndexBroken, ShelfError: If it cannot be used; `without_file` removes it.
    """
    path = folder / INDEX_FILE
    path.parent.mkdir(exist_ok=True)
    # Not as text: a question mark in the name of a folder would end the path there.
    place = URL.create("sqlite", database=str(path))
    engine = create_engine(place, connect_args={"timeout": BUSY_S}, pool_size=2)
    event.listen(engine, "connect", _set_up_sqlite)
    return _with_tables(Database(engine, name=str(path)))


def memory_database() -> Database:
    """An index that is gone with the program: for a shelf that cannot be written to."""
    engine = create_engine(
        "sqlite://", poolclass=StaticPool, connect_args={"check_same_thread": False}
    )
    return _with_tables(Database(engine, name="the index in memory"))


def remove_index_file(folder: Path) -> None:
    """Delete the index file and what belongs to it.

    Raises:
        OSError: If it cannot be deleted.
    """
    for ending in BESIDE:
        (folder / (INDEX_FILE + ending)).unlink(missing_ok=True)


def _set_up_sqlite(connection: DBAPIConnection, _record: ConnectionPoolEntry) -> None:
    """No file is mapped into memory (as a WAL would be): where somebody else cuts a mapped file
    short, the process that reads it is killed, and this process may be running a test."""
    cursor = connection.cursor()
    cursor.execute("PRAGMA journal_mode=TRUNCATE")
    cursor.execute("PRAGMA mmap_size=0")
    cursor.execute("PRAGMA synchronous=NORMAL")
    cursor.execute("PRAGMA cache_size=-65536")
    cursor.close()


def _with_tables(database: Database) -> Database:
    try:
        try:
            database.check()
        except IndexBroken:
            database.make_tables()
            database.check()
    except BaseException:
        database.close()
        raise
    return database


# ---- a server ------------------------------------------------------------------------------


def server_database(url: str) -> Database:
    """The database at `url`; nothing is sent before the first question.

    Raises:
        ShelfError: If the URL is wrong, or its driver is missing.
    """
    address = checked_url(url)
    try:
        engine = create_engine(
            address,
            pool_size=2,
            max_overflow=2,
            use_native_hstore=False,  # would be asked for on every connection
            connect_args=patience(address),
        )
    except (NoSuchModuleError, ModuleNotFoundError) as error:
        raise ShelfError(
            f"The driver of {shown_url(address)} is not installed ({error}).",
            what_to_do=f"Install it: pip install {PACKAGES[address.get_backend_name()]}.",
        ) from error
    event.listen(engine, "do_connect", _connect_patiently)
    return Database(engine, name=shown_place(address))


def _connect_patiently(
    _dialect: Dialect, _record: ConnectionPoolEntry, where: Sequence[Any], how: dict[str, Any]
) -> PatientConnection:
    from acquire.shelf.patient_connection import PatientConnection

    return PatientConnection.opened(*where, **how)
