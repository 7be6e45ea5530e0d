"""Output on a terminal or into a file that lacks a sign: something near it instead of an error.

A Windows console of the old kind, and a file that output goes to there, take one code page only,
such as cp850 or cp1252.
"""

from __future__ import annotations

import codecs
import unicodedata
from typing import TextIO

SIGNS = {
    "…": "...", "–": "-", "—": "-", "−": "-", "·": ".", "×": "x", "≤": "<=", "≥": ">=", "±": "+/-",
    "→": "->", "≈": "~", "√": "sqrt", "Ω": "ohm", "µ": "u", "μ": "u", "σ": "s", "Δ": "d",
    "°": " deg ", "“": '"', "”": '"', "„": '"', "’": "'", "‘": "'", "ß": "ss",
}  # fmt: skip
"""What stands for a sign that cannot be shown; other letters lose their accents."""
NEAREST = "steadyamps-nearest"
"""Name of the way of encoding."""


def nearest(text: str) -> str:
    """`text` in plain letters and signs; what has no near one becomes a question mark."""
    return "".join(SIGNS.get(sign) or _without_accents(sign) for sign in text)


def _without_accents(sign: str) -> str:
    plain = unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode("ascii")
    return plain or "?"


def _handled(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return nearest(error.object[error.start : error.end]), error.end


def shows_everything(stream: TextIO | None) -> bool:
    """True where `stream` takes every sign there is."""
    return _plain_name(getattr(stream, "encoding", None)).startswith("utf")


def never_fails(stream: TextIO | None) -> None:
    """From now on a sign that `stream` lacks is written as its nearest."""
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None and not shows_everything(stream):
        codecs.register_error(NEAREST, _handled)
        reconfigure(errors=NEAREST)


def in_utf8(stream: TextIO | None) -> None:
    """From now on `stream` is UTF-8, as JSON that is passed on must be (RFC 8259, 8.1)."""
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None and _plain_name(getattr(stream, "encoding", None)) != "utf8":
        reconfigure(encoding="utf-8", errors="strict")


def _plain_name(encoding: str | None) -> str:
    return (encoding or "").lower().replace("-", "").replace("_", "")
