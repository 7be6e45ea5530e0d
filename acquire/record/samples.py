"""samples.csv: every reading of a run, `t_s,channel,value,quality`."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

from acquire.errors import RunFileError
from acquire.record.csv_text import LINE_END, text_cell
from acquire.record.cut_tail import CutTail
from acquire.record.json_text import read_bounded
from drivers.readings import Quality, Reading

SAMPLES_FILE = "samples.csv"
HEADING = b"t_s,channel,value,quality" + LINE_END
LARGEST_SAMPLES = 2_000_000_000
# As long as the writer ever makes one; longer, it might be no float.
_NUMBER = rb"-?[0-9]{1,20}(?:\.[0-9]{1,30})?(?:e[-+]?[0-9]{1,3})?"
_NOT_OK = b"|".join(quality.value.encode() for quality in Quality if quality is not Quality.OK)
_ROW = re.compile(
    rb"(%(n)s),([a-z][a-z0-9_]*),(?:(%(n)s),ok|,(%(q)s))\r\n" % {b"n": _NUMBER, b"q": _NOT_OK}
)


class SampleRows:
    """Makes rows: the shortest text that reads back to the same float."""

    def __init__(self) -> None:
        self._cells: dict[str, str] = {}

    def rows(self, readings: Iterable[Reading]) -> bytes:
        """The rows of readings whose `t_s` counts from the start of the run.

        A value that is not finite is no value: its row says `bad`.
        """
        cells = self._cells
        lines = []
        for reading in readings:
            channel = cells.get(reading.channel) or self._cell(reading.channel)
            value = reading.value
            if reading.quality is not Quality.OK:
                lines.append(f"{float(reading.t_s)!r},{channel},,{reading.quality.value}\r\n")
            elif value is not None and isfinite(value):
                lines.append(f"{float(reading.t_s)!r},{channel},{float(value)!r},ok\r\n")
            else:
                lines.append(f"{float(reading.t_s)!r},{channel},,bad\r\n")
        return "".join(lines).encode()

    def _cell(self, channel: str) -> str:
        cell = self._cells[channel] = text_cell(channel)
        return cell


@dataclass(frozen=True, slots=True)
class SamplesRead:
    """Where the whole rows end, and what stood after them."""

    rows: int
    good_bytes: int
    last_t_s: float
    tail: CutTail | None


def check_samples(path: Path) -> SamplesRead:
    """Count the whole rows; what stands after them is the tail.

    Raises:
        RunFileError: If the file cannot be read or its heading is wrong.
    """
    return samples_from(path, read_bounded(path, largest=LARGEST_SAMPLES))


def samples_from(path: Path, data: bytes) -> SamplesRead:
    """Count the whole rows in the bytes of a samples.csv."""
    rows, good, last = 0, _after_heading(path, data), b"0"
    while found := _row_at(data, good):
        rows, good, last = rows + 1, found.end(), found.group(1)
    tail = data[good:]
    cut = CutTail(SAMPLES_FILE, good, len(tail), tail) if tail else None
    return SamplesRead(rows, good, float(last), cut)


def iterate_samples(path: Path) -> Iterator[Reading]:
    """The readings of the whole rows, in order.

    Raises:
        RunFileError: If the file cannot be read or its heading is wrong.
    """
    data = read_bounded(path, largest=LARGEST_SAMPLES)
    good = _after_heading(path, data)
    names: dict[bytes, str] = {}
    while found := _row_at(data, good):
        t_s, channel, value, quality = found.groups()
        name = names.get(channel) or names.setdefault(channel, channel.decode())
        if value is None:
            yield Reading(name, float(t_s), None, Quality(quality.decode()))
        elif isfinite(number := float(value)):
            yield Reading(name, float(t_s), number)
        else:  # of other hands: as the writer would have put it
            yield Reading(name, float(t_s), None, Quality.BAD)
        good = found.end()


def _row_at(data: bytes, place: int) -> re.Match[bytes] | None:
    """The row that begins there, when it is whole and has a time."""
    found = _ROW.match(data, place)
    if found is None or (b"e" in found[1] and not isfinite(float(found[1]))):
        return None
    return found


def _after_heading(path: Path, data: bytes) -> int:
    if data.startswith(HEADING):
        return len(HEADING)
    raise RunFileError(
        path,
        "does not begin with t_s,channel,value,quality.",
        what_to_do="The file is damaged: fetch the run again from a copy.",
    )
