"""Why a server cannot be asked: one short reason, and what to do about just that."""

from __future__ import annotations

from acquire.shelf.errors import IndexBroken, ServerAway, ShelfError
from acquire.shelf.server_url import ANSWER_S, CONNECT_S, STATEMENT_MS

AWAY = "The server is away: only the runs of this bench are shown."
NOT_ANSWERED = "one question was left without an answer"
"""What the bench itself says of a server it has stopped waiting for."""
_URL = "[shelf] url in settings.toml"
_LATER = "Runs are kept in their folders and are noted once it answers again."
_NOT_ALLOWED = frozenset({"42501", "3F000"})  # or no schema in which it would be allowed
_MISSING = frozenset({"42P01", "42703"})  # undefined table, column
_AWAY_CLASSES = ("", "08", "57", "53", "28", "3D")
_LONGEST = 120

_CERTIFICATE = (
    f"Look at sslrootcert in {_URL}, and that the host is written as in the certificate."
    " Nothing was sent."
)
_LET_IN = (
    "Look at the file of passwords (~/.pgpass, on Windows pgpass.conf), or ask whoever keeps the"
    " server."
)
_KEEPER = f"Look at {_URL}, or ask whoever keeps the server."
_NETWORK = f"Check the network and {_URL}."
_REASONS = (
    (("root certificate file",), "there is no root certificate to know it by", _CERTIFICATE),
    (("certificate", "ssl error"), "its certificate is not one this bench trusts", _CERTIFICATE),
    (("support ssl",), "it does not encrypt, and nothing goes to it unencrypted", _KEEPER),
    (("no pg_hba.conf entry",), "it does not let this bench in so", _KEEPER),
    (("password", "authentication failed"), "it does not take the password", _LET_IN),
    (("role", "does not exist"), "it does not know the user of this bench", _KEEPER),
    (("database", "does not exist"), "it has no such database", _KEEPER),
    ((NOT_ANSWERED,), f"no answer to one question within {ANSWER_S:.0f} s", _KEEPER),
    (("statement timeout",), f"one question took longer than {STATEMENT_MS // 1000} s", _KEEPER),
    (("timeout", "timed out"), f"no answer within {CONNECT_S} s", _NETWORK),
    (("refused",), "the connection was refused", _NETWORK),
    (("resolve", "translate host name", "not known"), "no such name on this network", _NETWORK),
    (("closed the connection", "terminating connection"), "it hung up", _NETWORK),
)  # fmt: skip
_ALL_OF = ("role", "database")
"""Of these reasons every word must stand in what the driver says; of the others one."""


def server_trouble(place: str, words: str, state: str, *, lost: bool) -> ShelfError:
    """The error for what the driver said of the server at `place`, with its SQLSTATE."""
    told = f"The server {place} cannot be used: {words}."
    if state in _NOT_ALLOWED:
        return ShelfError(
            told,
            what_to_do="The role of this bench may not do that: whoever keeps the server makes the"
            " tables and rights with acquire/shelf/server.sql.",
        )
    if state in _MISSING:
        return IndexBroken(told, what_to_do="`steadyamps shelf rebuild` makes the tables.")
    if lost or state[:2] in _AWAY_CLASSES:
        reason, what_to_do = _reason(words)
        return ServerAway(f"{place}: {reason}.", what_to_do=f"{what_to_do} {_LATER}")
    return ShelfError(
        told, what_to_do="Show this to whoever keeps the server; the runs are in their folders."
    )


def _reason(words: str) -> tuple[str, str]:
    small = words.casefold()
    for signs, reason, what_to_do in _REASONS:
        enough = all if signs[0] in _ALL_OF else any
        if enough(sign in small for sign in signs):
            return reason, what_to_do
    return words.rpartition("failed: ")[2][:_LONGEST].rstrip(". "), _NETWORK
