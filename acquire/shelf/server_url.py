"""The address of a server: which driver, how long to wait, and never without encryption."""

from __future__ import annotations

from typing import Any

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from acquire.shelf.errors import ShelfError
from profiles.plain_text import shown

CONNECT_S = 3
"""A server that is there answers in milliseconds; the screens wait no longer than this [s]."""
STATEMENT_MS = 20_000
"""No question to a shelf takes so long [ms]; a rebuild asks many short ones."""
ANSWER_S = STATEMENT_MS / 1000 + 5
"""So long the bench waits for one statement, or one commit [s]: a server that has not even said by
then that it ended the statement is frozen."""
DRIVER = "psycopg"
"""The one whose encryption is seen to here."""
_PLAIN = {"postgresql": "postgresql+psycopg", "postgres": "postgresql+psycopg",
          "cockroachdb": "cockroachdb+psycopg"}  # fmt: skip
PACKAGES = {
    "postgresql": '"steadyamps[server]"',
    "cockroachdb": '"steadyamps[server]" sqlalchemy-cockroachdb',
}
"""What pip must install for each kind of server."""
_WHERE = "[shelf] url in settings.toml"
_EXAMPLE = "postgresql://bench@server.example/shelf?sslrootcert=/path/to/root.crt"


def checked_url(text: str) -> URL:
    """The URL with the driver named, and encrypted unless it stays on this computer.

    Raises:
        ShelfError: If it is no URL of a server.
    """
    try:
        text.encode()  # half a character, as a spoilt command line or file may hold
        url = make_url(text)
    except (ArgumentError, ValueError) as error:
        raise ShelfError(
            f"{_WHERE} is no address of a database.", what_to_do=f"Write it as {_EXAMPLE}."
        ) from error
    url = url.set(drivername=_PLAIN.get(url.drivername, url.drivername))
    backend, _, driver = url.drivername.partition("+")
    if backend == "sqlite":
        raise ShelfError(
            f"{_WHERE} names a file.",
            what_to_do="Leave url out: the index is then a file on the shelf by itself.",
        )
    if backend not in PACKAGES:
        raise ShelfError(
            f"{_WHERE} names {shown(backend)}; the shelf needs PostgreSQL, or what speaks its"
            " protocol.",
            what_to_do=f"Write it as {_EXAMPLE}.",
        )
    if driver != DRIVER:
        raise ShelfError(
            f"{_WHERE} names the driver {shown(driver)}; {DRIVER} is the one that is used.",
            what_to_do=f"Write it as {_EXAMPLE}.",
        )
    if "sslmode" not in url.query and not _here(url):
        # libpq by itself would go on in plain text with whoever answers.
        url = url.update_query_dict({"sslmode": "verify-full"})
    return url


def shown_url(url: URL) -> str:
    """The URL without password and options."""
    return url.set(query={}).render_as_string(hide_password=True)


def shown_place(url: URL) -> str:
    """The computer and port of a server, as far as they are stated."""
    host = url.host or str(url.query.get("host", "") or "") or "on this computer"
    return host if url.port is None else f"{host}:{url.port}"


def _here(url: URL) -> bool:
    """True for this computer: a loopback address or a socket of the file system."""
    host = url.host or str(url.query.get("host", "") or "")
    return host in ("", "localhost", "127.0.0.1", "::1") or host.startswith("/")


def patience(url: URL) -> dict[str, Any]:
    """How long to wait for a server before it counts as away."""
    if url.drivername.partition("+")[2] != "psycopg":
        return {}
    wanted: dict[str, Any] = {
        "connect_timeout": CONNECT_S,
        "keepalives_idle": 5,
        "keepalives_interval": 2,
        "keepalives_count": 3,
        "tcp_user_timeout": 10_000,
        "options": f"-c statement_timeout={STATEMENT_MS}",
        "application_name": "steadyamps",
    }
    return {name: value for name, value in wanted.items() if name not in url.query}
