"""Text lines that carry a value: framing of a byte stream, and a pattern with its checksum.

Pure functions of bytes; no I/O. A line counts only as a whole, so a cut line or two fused lines
do not pass; a checksum, where the instrument sends one, finds the rest.
"""

from __future__ import annotations

import functools
import math
import operator
import re
from dataclasses import dataclass

from drivers.errors import Unreadable
from drivers.modbus_frame import crc16

LONGEST_LINE = 256
NO_MATCH = "the line does not match the pattern"
# Each digit can be matched in one way only: a long run of them is refused in no time.
NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
CHECKSUMS = ("xor", "sum", "crc")


def strict_number(text: str) -> float:
    """The number that `text` is; no underscores, no `nan`, no `inf`, no other script's digits.

    Raises:
        Unreadable: If it is anything else, or too large for a float.
    """
    if not NUMBER.fullmatch(text):
        raise Unreadable("not a number", text.encode("latin-1", "replace"))
    value = float(text)
    if not math.isfinite(value):
        raise Unreadable("not a finite number", text.encode("latin-1", "replace"))
    return value


@dataclass(frozen=True, slots=True)
class LineValue:
    """What a matching line says."""

    value: float
    count: str | None = None
    """The instrument's own counter, where the pattern has a group `count`."""


class LinePattern:
    """A pattern that must match the whole line; group `value`, optionally `xor`, `sum` or `crc`.

    The checksum covers the bytes before the last `*` in front of its group, or all bytes before
    the group where there is no `*`: `xor` and `sum` (modulo 256, or 65536 when four digits are
    sent) in hexadecimal; `crc` is the CRC-16 of Modbus, high digit first.
    """

    def __init__(self, pattern: str) -> None:
        try:
            self._pattern = re.compile(pattern, re.ASCII)
        except re.error as error:
            raise ValueError(f"the pattern cannot be compiled: {error}") from error
        groups = self._pattern.groupindex
        if "value" not in groups:
            raise ValueError("the pattern has no group named 'value'")
        self._checksum = next((kind for kind in CHECKSUMS if kind in groups), None)
        self._counts = "count" in groups

    def read(self, line: bytes) -> LineValue:
        """The value in `line` (without its terminator).

        Raises:
            Unreadable: It does not match as a whole, its checksum is wrong, or it is too long.
        """
        found = self.find(line)
        if found is None:
            raise Unreadable(NO_MATCH, line)
        return LineValue(*found)

    def find(self, line: bytes) -> tuple[float, str | None] | None:
        """Value and counter in `line` (without its terminator); None when it does not match.

        Raises:
            Unreadable: It matches, but its checksum or its number is wrong; or it is too long.
        """
        match = self._match(line, LONGEST_LINE)
        if match is None:
            return None
        try:
            value = strict_number(match["value"] or "")
        except Unreadable as error:
            raise Unreadable(f"the value is {error}", line) from None
        return value, match["count"] if self._counts else None

    def read_text(self, line: bytes, longest: int) -> str:
        """What group `value` holds in a line of at most `longest` bytes, whatever it is.

        Raises:
            Unreadable: As for `read`.
        """
        match = self._match(line, longest)
        if match is None:
            raise Unreadable(NO_MATCH, line[:LONGEST_LINE])
        return match["value"] or ""

    def _match(self, line: bytes, longest: int) -> re.Match[str] | None:
        if len(line) > longest:
            raise Unreadable(f"a line of more than {longest} bytes", line[:LONGEST_LINE])
        match = self._pattern.fullmatch(line.decode("latin-1"))
        if match is not None and self._checksum is not None:
            self._check(line, match, self._checksum)
        return match

    @staticmethod
    def _check(line: bytes, match: re.Match[str], kind: str) -> None:
        sent = match[kind] or ""
        start = match.start(kind)
        star = line.rfind(b"*", 0, start)
        covered = line[: star if star >= 0 else start]
        if not re.fullmatch(r"[0-9A-Fa-f]+", sent) or int(sent, 16) != _sum(kind, covered, sent):
            raise Unreadable("the checksum is wrong", line)


def _sum(kind: str, covered: bytes, sent: str) -> int:
    if kind == "xor":
        return xor_of(covered)
    if kind == "crc":
        return crc16(covered)
    return sum(covered) % (1 << 4 * len(sent))


def xor_of(covered: bytes) -> int:
    """Exclusive or of all bytes: the checksum of NMEA 0183 and many small instruments."""
    return functools.reduce(operator.xor, covered, 0)


class LineFramer:
    """Cuts a byte stream into lines, whatever pieces it comes in; memory is bounded.

    What comes before the first terminator is dropped: it may be the end of a cut line. So is a
    line that grows longer than `longest`; `overruns` counts those.
    """

    def __init__(self, terminator: bytes = b"", longest: int = LONGEST_LINE) -> None:
        self._end = re.compile(re.escape(terminator) if terminator else rb"[\r\n]+")
        self._longest = longest
        self._kept = b""
        self._dropping = True
        self.overruns = 0

    def feed(self, data: bytes) -> list[bytes]:
        """Whole lines that `data` completes, without terminators; empty lines are left out."""
        came = self._kept + data
        *lines, self._kept = self._end.split(came)
        if self._dropping or len(came) > self._longest:
            lines = list(map(self._whole, lines))
        whole = [line for line in lines if line]
        if len(self._kept) > self._longest:
            self._kept = b""
            self.overruns += not self._dropping
            self._dropping = True
        return whole

    def _whole(self, line: bytes) -> bytes:
        if self._dropping:
            self._dropping = False
            return b""
        if len(line) > self._longest:
            self.overruns += 1
            return b""
        return line
