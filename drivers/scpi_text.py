"""SCPI and IEEE 488.2 text: numbers in answers, the error queue, the proof of synchrony.

Pure functions of text. Answers hold NR1, NR2 or NR3 numbers; 9.9E37 stands for an overload and
9.91E37 for "not a number" (as instruments' manuals print it: R&S NGE100, p. 73; HP 53131A,
p. 85). Some loads append a unit of measure; one with a prefix (mV, kA) is refused, because the
number alone would be wrong by a thousand.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from drivers.errors import OutOfRange, Unreadable
from drivers.line_pattern import strict_number

_FIELD = re.compile(
    r"\s*(?P<number>[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)"
    r"\s*(?:[VA](?:DC|AC|RMS)?|W|OHM|HZ|S|RPM|(?:DEG)?C|K|NM|PCT|%)?\s*",
    re.IGNORECASE | re.ASCII,
)
_ERROR = re.compile(r"\s*(?P<number>[+-]?[0-9]{1,6})\s*(?:,(?P<words>.*))?", re.DOTALL | re.ASCII)
_INTEGER = re.compile(r"\s*[+]?(?P<number>[0-9]{1,3})\s*", re.ASCII)
OVERLOAD = 9.9e37
NOT_A_NUMBER = 9.91e37


def scpi_number(answer: bytes, field: int | None = None) -> float:
    """The number in `answer`, or in its `field`-th part (from 0) where parts are meant.

    Without `field` an answer in several parts is refused: it may be a decimal comma.

    Raises:
        OutOfRange: The instrument says overload (9.9E37 and above, or its negative).
        Unreadable: It is no number, or 9.91E37, which stands for "not a number".
    """
    fields = answer.decode("latin-1").split(",")
    if field is None and len(fields) > 1:
        raise Unreadable(f"the answer has {len(fields)} parts, and none was chosen", answer)
    field = field or 0
    if field >= len(fields):
        raise Unreadable(f"the answer has {len(fields)} parts, none numbered {field}", answer)
    match = _FIELD.fullmatch(fields[field])
    if match is None:
        raise Unreadable("the answer is not a number", answer)
    return meant(strict_number(match["number"]), answer)


def meant(value: float, answer: bytes) -> float:
    """`value` itself, unless it stands for something else.

    Raises:
        OutOfRange: It says overload.
        Unreadable: It says "not a number".
    """
    size = abs(value)
    if abs(size - NOT_A_NUMBER) <= 1e-4 * NOT_A_NUMBER:
        raise Unreadable("the instrument answers 'not a number'", answer)
    if size >= 0.999 * OVERLOAD:
        raise OutOfRange("the instrument answers 'overload'", answer)
    return value


@dataclass(frozen=True, slots=True)
class QueuedError:
    """One entry of the error queue; number 0 means that there is none."""

    number: int
    words: str


def queued_error(answer: bytes) -> QueuedError:
    """The entry that `SYST:ERR?` gave; only the number counts, the words differ by maker.

    Raises:
        Unreadable: If the answer does not begin with a number.
    """
    match = _ERROR.fullmatch(answer.decode("latin-1"))
    if match is None:
        raise Unreadable("not an entry of an error queue", answer)
    return QueuedError(int(match["number"]), (match["words"] or "").strip().strip('"'))


def is_token(answer: bytes, token: int) -> bool:
    """True when `answer` is the whole number `token` and nothing else."""
    match = _INTEGER.fullmatch(answer.decode("latin-1"))
    return match is not None and int(match["number"]) == token
