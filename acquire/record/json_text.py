"""JSON as a record has it: exact numbers, no steering characters, bounded when read."""

from __future__ import annotations

import dataclasses
import json
import math
import re
import stat
from collections.abc import Mapping
from datetime import date
from enum import Enum
from pathlib import Path
from typing import NoReturn

from acquire.errors import RunFileError
from acquire.record.files import file_error

LARGEST_BYTES = 32_000_000
DEEPEST = 64

# Characters that may steer a terminal or turn text around; inside JSON they only stand in
# strings, where an escape means the same.
_STEERING = re.compile(
    "[\x7f-\x9f\xad\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb\ud800-\udfff]"
)


def plain(value: object) -> object:
    """Reduce a value to what JSON knows; what is not finite becomes the word `nan` or `inf`.

    Bytes become text in which every byte is readable again: see `bytes_as_text`.
    """
    if value is None or isinstance(value, bool | str):
        return value if not isinstance(value, Enum) else value.value
    if isinstance(value, Enum):
        return plain(value.value)
    if isinstance(value, int):
        return int(value)
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else f"{float(value)}"
    return _plain_other(value)


def _plain_other(value: object) -> object:
    if isinstance(value, bytes | bytearray):
        return bytes_as_text(bytes(value))
    if isinstance(value, date):
        return value.isoformat()
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = dataclasses.fields(value)
        return {field.name: plain(getattr(value, field.name)) for field in fields}
    if isinstance(value, Mapping):
        return {str(plain(key)): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, set | frozenset):
        return sorted((plain(item) for item in value), key=str)
    if hasattr(value, "tolist"):  # a number or an array of numpy's
        return plain(value.tolist())
    return str(value)


def bytes_as_text(raw: bytes) -> str:
    r"""Write bytes as ASCII, the unprintable as `\x1b`; `unicode_escape` reads them back."""
    return raw.decode("latin-1").encode("unicode_escape").decode("ascii")


def one_line(value: object) -> bytes:
    """Encode as one line of JSON, without its end."""
    return _encode(plain(value), indent=None)


def many_lines(value: object) -> bytes:
    """Encode as a file people may read."""
    return _encode(plain(value), indent=2) + b"\n"


def _encode(value: object, *, indent: int | None) -> bytes:
    separators = (",", ":") if indent is None else (",", ": ")
    text = json.dumps(
        value, ensure_ascii=False, allow_nan=False, indent=indent, separators=separators
    )
    return without_steering(text).encode()


def without_steering(text: str) -> str:
    """JSON in which no character can steer a terminal; it means the same."""
    return _STEERING.sub(lambda found: f"\\u{ord(found.group()):04x}", text)


class _Refused(ValueError):
    """JSON that no writer of ours makes."""


def parse(data: bytes) -> object:
    """Parse JSON strictly: UTF-8, no key twice, no NaN, not too deep.

    Raises:
        ValueError: With a sentence that says what is wrong.
    """
    try:
        value = json.loads(
            data.decode("utf-8"),
            object_pairs_hook=_once_each,
            parse_constant=_no_constant,
            parse_float=_finite,
        )
    except UnicodeDecodeError as error:
        raise _Refused(f"byte {error.start} is not UTF-8 text") from error
    except RecursionError:
        raise _Refused(f"it is nested more than {DEEPEST} deep") from None
    except json.JSONDecodeError as error:
        raise _Refused(f"line {error.lineno}, column {error.colno} is not JSON") from error
    _check_depth(value)
    return value


def _once_each(pairs: list[tuple[str, object]]) -> dict[str, object]:
    table = dict(pairs)
    if len(table) != len(pairs):
        raise _Refused("a key stands twice in one table")
    return table


def _no_constant(word: str) -> NoReturn:
    raise _Refused(f"{word} is not a number of JSON")


def _finite(word: str) -> float:
    value = float(word)
    if not math.isfinite(value):
        raise _Refused(f"{word[:40]} is too large for a number")
    return value


def _check_depth(value: object) -> None:
    layer = [value]
    for _ in range(DEEPEST + 1):
        layer = [inner for outer in layer for inner in _inside(outer)]
        if not layer:
            return
    raise _Refused(f"it is nested more than {DEEPEST} deep")


def _inside(value: object) -> list[object]:
    items = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return [item for item in items if isinstance(item, dict | list)]


def read_bounded(path: Path, *, largest: int = LARGEST_BYTES) -> bytes:
    """Read a whole ordinary file that is not too large.

    Raises:
        RunFileError: If it is missing, a link, no ordinary file, too large, or unreadable.
    """
    try:
        facts = path.lstat()
        if not stat.S_ISREG(facts.st_mode):
            raise RunFileError(
                path,
                "is a link or not an ordinary file.",
                what_to_do="A record holds ordinary files only: put the file itself there.",
            )
        if facts.st_size > largest:
            raise RunFileError(
                path,
                f"is too large to be read: {facts.st_size} bytes, at most {largest} are usual.",
                what_to_do="This file was not written by this program, or was damaged.",
            )
        return path.read_bytes()
    except ValueError as error:  # a path with a NUL in it
        raise RunFileError(path, "is no path.", what_to_do="Write the path of a file.") from error
    except OSError as error:
        raise file_error(path, error, "read") from error


def read_json(path: Path, *, largest: int = LARGEST_BYTES) -> object:
    """Read a JSON file within bounds.

    Raises:
        RunFileError: If the file or its JSON cannot be used.
    """
    data = read_bounded(path, largest=largest)
    try:
        return parse(data)
    except ValueError as error:
        raise RunFileError(
            path,
            f"cannot be read: {error}.",
            what_to_do="The file is damaged: fetch the run again from a copy.",
        ) from error
