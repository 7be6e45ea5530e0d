"""A real PostgreSQL server of the tests' own: made in a temporary folder, on loopback only."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

KEEPER = "postgres"
"""The user the server runs as where the tests run as root; Debian's package makes it."""
DEBIAN = Path("/usr/lib/postgresql")
QUICK = ("fsync=off", "synchronous_commit=off", "full_page_writes=off")


def binaries() -> Path | None:
    """The newest PostgreSQL of this computer, or None."""
    versions = sorted(DEBIAN.glob("*/bin/initdb"), key=lambda path: float(path.parts[-3]))
    if versions:
        return versions[-1].parent
    found = shutil.which("initdb")
    return Path(found).resolve().parent if found else None


@dataclass
class PostgresServer:
    """Starts, stops, and starts again on the same port with the same data."""

    folder: Path
    port: int
    tools: Path
    settings: tuple[str, ...] = QUICK

    def url(self, *, user: str = KEEPER, password: str = "", database: str = KEEPER) -> str:
        """Where a client finds it."""
        who = f"{user}:{password}" if password else user
        return f"postgresql://{who}@127.0.0.1:{self.port}/{database}"

    def make(self) -> None:
        """Make an empty cluster; from loopback everybody needs a password but its keeper."""
        self._run("initdb", "-D", self._data, "-U", KEEPER, "-A", "trust", "--no-sync",
                  "--locale=C", "--encoding=UTF8")  # fmt: skip
        self.admit([f"host all {KEEPER} 127.0.0.1/32 trust",
                    "host all all 127.0.0.1/32 scram-sha-256"])  # fmt: skip

    def admit(self, lines: Sequence[str]) -> None:
        """Say who may come in, as in pg_hba.conf."""
        path = self.folder / "data" / "pg_hba.conf"
        path.write_text("".join(f"{line}\n" for line in lines), encoding="ascii")

    def start(self) -> None:
        """Start and wait until it answers."""
        options = [f"-c {setting}" for setting in self.settings]
        options += [f"-p {self.port}", "-c listen_addresses=127.0.0.1",
                    f"-c unix_socket_directories={self.folder}"]  # fmt: skip
        self._run("pg_ctl", "-D", self._data, "-w", "-t", "30", "-l", str(self.folder / "log"),
                  "-o", " ".join(options), "start")  # fmt: skip

    def stop(self) -> None:
        """Stop, whoever is connected."""
        self._run("pg_ctl", "-D", self._data, "-w", "-m", "fast", "stop")

    def sql(self, text: str, *, database: str = KEEPER) -> str:
        """Run SQL as the server's keeper."""
        return self._run("psql", "-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1",
                         "-h", "127.0.0.1", "-p", str(self.port), "-U", KEEPER, "-d", database,
                         given=text)  # fmt: skip

    @property
    def _data(self) -> str:
        return str(self.folder / "data")

    def _run(self, tool: str, *arguments: str, given: str = "") -> str:
        command = [*as_keeper(), str(self.tools / tool), *arguments]
        # The server inherits its output's descriptors: a pipe would never end.
        with tempfile.TemporaryFile() as out:
            done = subprocess.run(
                command, input=given.encode(), stdout=out, stderr=out, cwd="/", check=False,
                env={**os.environ, "LC_ALL": "C.UTF-8"},
            )  # fmt: skip
            out.seek(0)
            text = out.read().decode("utf-8", "replace")
        assert done.returncode == 0, f"{tool}: {text}"
        return text


def as_keeper() -> list[str]:
    """PostgreSQL does not run as root: what goes before a command then."""
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        return []
    return ["runuser", "-u", KEEPER, "--"]


def free_port() -> int:
    """A port of loopback that nobody has."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    assert isinstance(port, int)
    return port


@contextmanager
def running(*settings: str) -> Iterator[PostgresServer]:
    """A server that is gone afterwards."""
    tools = binaries()
    assert tools is not None
    with tempfile.TemporaryDirectory(prefix="shelf-server-") as name:
        folder = Path(name)
        if as_keeper():
            shutil.chown(folder, KEEPER)
        server = PostgresServer(folder, free_port(), tools, (*QUICK, *settings))
        server.make()
        server.start()
        try:
            yield server
        finally:
            server.stop()
