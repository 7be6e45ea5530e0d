"""A server's process that is frozen while its computer goes on, and thawed afterwards."""

from __future__ import annotations

import os
import signal
import socket
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

TABLE = "shelf_runs_2"
WAITING = "SELECT pid FROM pg_stat_activity WHERE datname = current_database() AND state = 'active'"
WAITING += " AND wait_event_type = 'Lock'"


class Freezer:
    """Freezes backends; all of them go on when it is closed."""

    def __init__(self) -> None:
        self.frozen: list[int] = []

    def freeze(self, backend: int) -> None:
        """SIGSTOP: it neither works nor keeps a time-out from here on."""
        assert sys.platform != "win32"
        os.kill(backend, signal.SIGSTOP)
        self.frozen.append(backend)

    def thaw(self) -> None:
        """Let all go on."""
        assert sys.platform != "win32"
        for backend in self.frozen:
            os.kill(backend, signal.SIGCONT)


@contextmanager
def freezer() -> Iterator[Freezer]:
    """A freezer; skips where there are no such signals."""
    if sys.platform == "win32":
        pytest.skip("a process cannot be stopped by a signal on Windows")
    one = Freezer()
    try:
        yield one
    finally:
        one.thaw()


@contextmanager
def frozen_in_mid_question(url: str, *, questions: int = 1) -> Iterator[Freezer]:
    """The first to ask for runs are frozen at work: found waiting for a lock, which then goes."""
    import psycopg

    with (
        freezer() as one,
        psycopg.connect(url) as holder,
        psycopg.connect(url, autocommit=True) as looker,
    ):
        holder.execute(f"LOCK TABLE {TABLE}")
        over = threading.Event()

        def look() -> None:
            while len(one.frozen) < questions and not over.wait(0.01):
                found = [backend for (backend,) in looker.execute(WAITING)]
                for backend in [new for new in found if new not in one.frozen][:questions]:
                    one.freeze(backend)
            holder.rollback()

        looking = threading.Thread(target=look)
        looking.start()
        try:
            yield one
        finally:
            over.set()
            looking.join(10)


@contextmanager
def frozen_in_the_handshake() -> Iterator[int]:
    """The port of what says that one may come in, and then nothing more."""
    with socket.create_server(("127.0.0.1", 0)) as door:
        callers: list[socket.socket] = []

        def greet() -> None:
            caller, _ = door.accept()
            callers.append(caller)
            caller.recv(4096)
            # AuthenticationOk (PostgreSQL, Message Formats): R, eight bytes long, zero.
            caller.sendall(b"R\0\0\0\x08\0\0\0\0")

        greeting = threading.Thread(target=greet, daemon=True)
        greeting.start()
        yield door.getsockname()[1]
        greeting.join(5)
        for caller in callers:
            caller.close()
