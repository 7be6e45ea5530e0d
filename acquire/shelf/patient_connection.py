"""A connection that does not wait without end: the bench's own patience with a server.

`statement_timeout` is kept by the server's process, which keeps nothing while it is frozen; the
system's keepalives are answered by its computer, which goes on.

psycopg waits in one place, `Connection.wait`, and comes back to the work waited for ten times a
second, on every system, whether anything has come or not. There the time is looked at: no thread
watches, and nothing is cut that has just been answered.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Generator, Iterable, Iterator
from typing import TYPE_CHECKING, Any, Self, TypeVar

from psycopg import Connection, Cursor, OperationalError
from psycopg.pq import PipelineStatus
from psycopg.rows import TupleRow

from acquire.shelf import server_url
from acquire.shelf.server_trouble import NOT_ANSWERED

if TYPE_CHECKING:
    from psycopg.abc import Params, PQGen, Query

T = TypeVar("T")

# What psycopg has to say while it lets go of a lost connection is not for the operator's screen.
logging.getLogger("psycopg").addHandler(logging.NullHandler())


class PatientConnection(Connection[TupleRow]):
    """Closes itself where the server leaves one statement or one commit without an answer.

    Raises:
        OperationalError: From whatever waited, with NOT_ANSWERED, `server_url.ANSWER_S` after the
            server last took or sent anything.
    """

    @classmethod
    def opened(cls, *where: Any, **how: Any) -> Self:  # noqa: ANN401 - as the library hands them on
        """As `connect`, whose own time-out (`connect_timeout`) is for the whole handshake."""
        return cls.connect(*where, **how, cursor_factory=_AnsweredCursor)

    def wait(self, gen: PQGen[T], *how: Any, **named: Any) -> T:  # noqa: ANN401 - as psycopg's
        """Wait for the work of `gen`, as long as the server goes on with it."""
        return super().wait(self._patiently(gen), *how, **named)

    def _patiently(self, work: PQGen[T]) -> Generator[Any, Any, T]:
        """`work`, unchanged, until for too long nothing could be received or sent."""
        heard_s = time.monotonic()
        try:
            wanted = next(work)
            while True:
                ready = yield wanted
                now_s = time.monotonic()
                if ready:
                    heard_s = now_s
                elif now_s - heard_s > server_url.ANSWER_S:
                    self.close()
                    raise OperationalError(NOT_ANSWERED)
                wanted = work.send(ready)
        except StopIteration as over:
            result: T = over.value
            return result


class _AnsweredCursor(Cursor[TupleRow]):
    """Has the server answer each line of many where it would keep the answers for the last."""

    def executemany(
        self, query: Query, params_seq: Iterable[Params], *, returning: bool = False
    ) -> None:
        """As psycopg's."""
        super().executemany(query, self._one_by_one(params_seq), returning=returning)

    def _one_by_one(self, lines: Iterable[Params]) -> Iterator[Params]:
        wire = self.connection.pgconn
        for number, line in enumerate(lines):
            if number and wire.pipeline_status != PipelineStatus.OFF:
                wire.send_flush_request()
            yield line
