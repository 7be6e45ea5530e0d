"""journal.jsonl: what happened, in order; each line carries the hash of the line before."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from acquire.record.cut_tail import CutTail
from acquire.record.json_text import one_line, parse, read_bounded
from acquire.record.other_hands import number

JOURNAL_FILE = "journal.jsonl"
LARGEST_JOURNAL = 256_000_000
LONGEST_LINE = 1_000_000
LATEST_S = 1e12
"""No run lasts so long [s]."""
STEADY_POINT = "steady point"
"""Kind of the entries that hold the rows of curve.csv once more."""
AT_S = "at_s"
"""Key in the data of an entry that tells of something earlier than the entry above: when that was,
in seconds from the start of the run."""
_KEYS = {"t_s", "utc", "kind", "data", "prev"}


@dataclass(frozen=True, slots=True)
class JournalEntry:
    """One line of the journal."""

    t_s: float
    """Seconds from the start of the run; never goes back from line to line."""
    utc: str
    kind: str
    data: Mapping[str, Any] = field(default_factory=dict)
    row: int = 0
    """How many rows of samples.csv stood before it; kept in `data` as `row`."""

    @property
    def at_s(self) -> float:
        """When what it tells of happened, seconds from the start of the run.

        Raises:
            TypeError or ValueError: If that is no finite number, as in a record from other hands.
        """
        return number(self.data.get(AT_S, self.t_s))

    def line(self, prev: str) -> bytes:
        """The line without its end, chained to the one before."""
        table = {
            "t_s": self.t_s,
            "utc": self.utc,
            "kind": self.kind,
            "data": {"row": self.row, **self.data},
            "prev": prev,
        }
        return one_line(table)


def hash_of(line: bytes) -> str:
    """What the next line carries as `prev`: SHA-256 of the line without its end."""
    return hashlib.sha256(line).hexdigest()


def first_prev(run_id: str) -> str:
    """What the first line carries: it ties the journal to its run."""
    return hash_of(run_id.encode())


class JournalChain:
    """Makes lines, each chained to the one before."""

    def __init__(self, prev: str) -> None:
        self.prev = prev

    def line(self, entry: JournalEntry) -> bytes:
        """The next line with its end.

        Raises:
            ValueError: If `data` has a `row` of its own, or is far too long.
        """
        if "row" in entry.data:
            raise ValueError("`row` is the journal's own key")
        line = entry.line(self.prev)
        if len(line) > LONGEST_LINE:
            raise ValueError(f"a journal entry of {len(line)} bytes is too long")
        self.prev = hash_of(line)
        return line + b"\n"


@dataclass(frozen=True, slots=True)
class JournalRead:
    """The whole lines of a journal, and what stood after them."""

    entries: tuple[JournalEntry, ...]
    prev: str
    """Hash of the last whole line."""
    good_bytes: int
    tail: CutTail | None


def read_journal(path: Path, run_id: str) -> JournalRead:
    """Read the journal as far as its chain holds; the rest is the tail.

    Raises:
        RunFileError: If the file itself cannot be read.
    """
    return journal_from(read_bounded(path, largest=LARGEST_JOURNAL), run_id)


def journal_from(data: bytes, run_id: str) -> JournalRead:
    """Read the bytes of a journal as far as its chain holds."""
    entries = []
    prev, good = first_prev(run_id), 0
    for line in _whole_lines(data):
        entry = _entry(line, prev)
        if entry is None:
            break
        entries.append(entry)
        prev, good = hash_of(line), good + len(line) + 1
    tail = data[good:]
    cut = CutTail(JOURNAL_FILE, good, len(tail), tail) if tail else None
    return JournalRead(tuple(entries), prev, good, cut)


def _whole_lines(data: bytes) -> Iterator[bytes]:
    begin = 0
    while (end := data.find(b"\n", begin)) >= 0:
        yield data[begin:end]
        begin = end + 1


def _entry(line: bytes, prev: str) -> JournalEntry | None:
    if len(line) > LONGEST_LINE:
        return None
    try:
        table = parse(line)
    except ValueError:
        return None
    if not isinstance(table, dict) or set(table) != _KEYS or table["prev"] != prev:
        return None
    t_s, utc, kind, data = table["t_s"], table["utc"], table["kind"], table["data"]
    if not isinstance(data, dict) or type(t_s) not in (int, float) or abs(t_s) > LATEST_S:
        return None
    if not isinstance(utc, str) or not isinstance(kind, str):
        return None
    row = data.pop("row", None)
    if type(row) is not int or row < 0:
        return None
    return JournalEntry(float(t_s), utc, kind, data, row)
