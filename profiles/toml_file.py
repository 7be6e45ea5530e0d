"""Reading a TOML file: every way it can fail becomes a ProfileError that says where."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from profiles.errors import Problem, ProfileError
from profiles.plain_text import visible

LARGEST_BYTES = 1_000_000
"""A profile is a page of text; anything larger is some other file."""
DEEPEST = 12
"""Tables and lists inside each other; our files need six."""

LONGEST_REASON = 200

_DECIMAL_COMMA = re.compile(r"=\s*[-+]?\d+,\d")
_PLACE = re.compile(r"\(at (?:line (\d+), column (\d+)|end of document)\)\s*$")


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file into plain values.

    Raises:
        ProfileError: it is missing, a folder, too large, not UTF-8, or not TOML.
    """
    return parse_toml(read_text(path), str(path))


def read_text(path: Path) -> str:
    """Read the text of a profile (UTF-8, with or without a byte order mark).

    Raises:
        ProfileError: it is missing, a folder, unreadable, too large, or not UTF-8.
    """
    try:
        if path.is_dir():
            raise _one(path, "is a folder, not a TOML file.", "Name the file itself.")
        if path.stat().st_size > LARGEST_BYTES:
            raise _one(path, "is larger than 1 MB; no profile is.", "Is it another kind of file?")
        raw = path.read_bytes()
    except FileNotFoundError:
        raise _one(path, "does not exist.", "Check the spelling of the path.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _one(path, f"cannot be read: {visible(reason)}.", "Check its permissions.") from error
    return _decoded(raw, path)


def _decoded(raw: bytes, path: Path) -> str:
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise _one(
            path,
            f"is not UTF-8 text (line {line}, byte 0x{raw[error.start]:02x}).",
            "Save it again as UTF-8.",
        ) from error


def parse_toml(text: str, file: str) -> dict[str, Any]:
    """Turn TOML text into plain values; `file` is the name used in messages.

    Raises:
        ProfileError: the text is not TOML; line and column are in the message.
    """
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax(text, file, str(error)) from error
    except RecursionError:
        raise _one(file, "has lists or tables nested absurdly deep.") from None
    except ValueError as error:  # a number of thousands of digits, an impossible date
        raise _one(file, f"holds a value that cannot be read: {visible(str(error))}.") from error
    if _depth(values) > DEEPEST:
        raise _one(file, "has lists or tables nested absurdly deep.")
    if _holds_giant(values):
        raise _one(file, "holds a number with very many digits.", "Mend that number.")
    return values


def _depth(values: object) -> int:
    """How many tables and lists stand inside each other (counted without recursion)."""
    depth = 0
    level = [values]
    while level and depth <= DEEPEST:
        depth += 1
        level = [inner for value in level for inner in _inside(value)]
    return depth


def _holds_giant(value: object) -> bool:
    """Whole numbers beyond 64 bits must be refused (TOML 1.0.0, Integer)."""
    if isinstance(value, int):
        return not -(2**63) <= value < 2**63
    return any(_holds_giant(inner) for inner in _inside(value))


def _inside(value: object) -> list[object]:
    if isinstance(value, dict):
        return list(value.values())
    return list(value) if isinstance(value, list) else []


def _syntax(text: str, file: str, said: str) -> ProfileError:
    place = _PLACE.search(said)
    reason = visible(_PLACE.sub("", said).strip()[:LONGEST_REASON]).rstrip(".")
    if place is None:
        where = "somewhere"
    elif place[1]:
        where = f"line {place[1]}, column {place[2]}"
    else:
        lines = text.split("\n")
        where = f"line {len(lines)}, column {len(lines[-1]) + 1} (the end of the file)"
    return _one(file, f"is not valid TOML at {where}: {reason}.", _hint(text, place))


def _hint(text: str, place: re.Match[str] | None) -> str:
    """A decimal comma is the usual slip."""
    lines = text.split("\n")
    number = int(place[1]) if place is not None and place[1] else len(lines)
    if 0 < number <= len(lines) and _DECIMAL_COMMA.search(lines[number - 1]):
        return "Write decimals with a point: 13.5, not 13,5."
    return "Mend that line."


def _one(file: Path | str, message: str, what_to_do: str = "") -> ProfileError:
    return ProfileError([Problem(visible(str(file)), "", message, what_to_do)])
