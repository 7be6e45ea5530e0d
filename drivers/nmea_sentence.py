"""NMEA 0183 sentences: their checksum, and the numbers in their fields.

Pure functions of bytes. The checksum is the exclusive or of the characters between `$` and `*`;
a sentence without one is refused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from drivers.errors import Unreadable
from drivers.line_pattern import strict_number, xor_of

_SENTENCE = re.compile(rb"\$(?P<body>[A-Z0-9]{5},[\x20-\x7e]*?)\*(?P<sum>[0-9A-Fa-f]{2})")


@dataclass(frozen=True, slots=True)
class Sentence:
    """A sentence whose checksum is right."""

    talker: str
    kind: str
    """Three letters: `RPM`, `XDR`."""
    fields: tuple[str, ...]


def read_sentence(line: bytes) -> Sentence:
    """The sentence in `line` (without its terminator).

    Raises:
        Unreadable: It is not one whole sentence, or its checksum is missing or wrong.
    """
    match = _SENTENCE.fullmatch(line.strip(b"\r\n"))
    if match is None:
        raise Unreadable("not a whole NMEA 0183 sentence with its checksum", line)
    body: bytes = match["body"]
    if int(match["sum"], 16) != xor_of(body) or b"*" in body or b"$" in body:
        raise Unreadable("the checksum is wrong", line)
    address, *fields = body.decode("ascii").split(",")
    return Sentence(address[:2], address[2:], tuple(fields))


def field_value(
    sentence: Sentence,
    *,
    kind: str,
    field: int,
    talker: str | None = None,
    where: Mapping[int, str] | None = None,
    status: int | None = None,
) -> float | None:
    """The number in a field, counted from 1 after the address; None in another sentence.

    `where` names fields and the texts they must have; `status` a field that must be `A`. An XDR
    sentence holds groups of four (type, value, unit of measure, name): numbers up to 4 count
    inside a group, and the first group that fits `where` gives the value. The fifth field of RPM
    tells whether the speed is valid and is always looked at.

    Raises:
        Unreadable: It is the sentence that is meant, but invalid or without a number.
    """
    if sentence.kind != kind or talker not in (None, sentence.talker):
        return None
    conditions = dict(where or {})
    if kind == "RPM" and status is None:
        status = 5
    for fields in _groups(sentence, max((field, status or 0, *conditions))):
        if all(_field(fields, number) == text for number, text in conditions.items()):
            return _valid(sentence, fields, field, status)
    return None


def _groups(sentence: Sentence, highest: int) -> list[tuple[str, ...]]:
    if sentence.kind != "XDR" or highest > 4:
        return [sentence.fields]
    if not sentence.fields or len(sentence.fields) % 4:
        raise Unreadable("an XDR sentence is in groups of four", _text(sentence))
    return [sentence.fields[start : start + 4] for start in range(0, len(sentence.fields), 4)]


def _valid(sentence: Sentence, fields: tuple[str, ...], field: int, status: int | None) -> float:
    if status is not None and _field(fields, status) != "A":
        raise Unreadable("the sender marks the value as not valid", _text(sentence))
    text = _field(fields, field)
    if text is None:
        raise Unreadable(f"the sentence has {len(fields)} fields", _text(sentence))
    try:
        return strict_number(text)
    except Unreadable as error:
        raise Unreadable(f"field {field} is {error}", _text(sentence)) from error


def _field(fields: tuple[str, ...], number: int) -> str | None:
    return fields[number - 1] if 1 <= number <= len(fields) else None


def _text(sentence: Sentence) -> bytes:
    return ",".join((sentence.talker + sentence.kind, *sentence.fields)).encode("ascii")
