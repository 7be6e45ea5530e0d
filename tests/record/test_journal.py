"""journal.jsonl: exact, chained, and safe to look at."""

from __future__ import annotations

import dataclasses
import enum
import hashlib
import json
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.errors import RunFileError
from acquire.record.journal import (
    JOURNAL_FILE,
    JournalChain,
    JournalEntry,
    first_prev,
    journal_from,
)
from acquire.record.json_text import (
    DEEPEST,
    bytes_as_text,
    many_lines,
    one_line,
    parse,
    plain,
    read_json,
)
from acquire.record.read_run import read_run
from drivers.clock import HandClock
from drivers.readings import Quality
from tests.record.bytes_again import text_as_bytes
from tests.record.runs import measure_step, new_run

SCALAR = st.none() | st.booleans() | st.integers() | st.text() | st.floats(allow_nan=False)
JSON = st.recursive(
    SCALAR.filter(lambda value: value not in (float("inf"), float("-inf"))),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)
DATA = st.dictionaries(st.text().filter(lambda key: key != "row"), JSON, max_size=4)
TIME = st.floats(min_value=0.0, max_value=1e6)


def lines(datas: list[dict[str, object]]) -> bytes:
    chain = JournalChain(first_prev("run"))
    return b"".join(
        chain.line(JournalEntry(float(number), "2026-01-02T03:04:05Z", "act", data, number))
        for number, data in enumerate(datas)
    )


@given(st.lists(st.tuples(TIME, DATA), max_size=4))
def test_entries_read_back_the_same(facts: list[tuple[float, dict[str, object]]]) -> None:
    chain = JournalChain(first_prev("run"))
    entries = tuple(
        JournalEntry(t_s, "now", "act", data, row) for row, (t_s, data) in enumerate(facts)
    )
    read = journal_from(b"".join(map(chain.line, entries)), "run")
    assert read.entries == entries
    assert read.tail is None
    assert read.prev == chain.prev


@given(DATA)
def test_no_control_character_leaves_the_journal(data: dict[str, object]) -> None:
    line = lines([data]).decode()
    assert line.count("\n") == 1
    shown = line.rstrip("\n")
    assert not any(ord(c) < 32 or 0x7F <= ord(c) < 0xA0 or c in "\u2028\u202e" for c in shown)
    assert json.loads(line)["data"] == {"row": 0, **data}


def test_each_line_carries_the_hash_of_the_line_before() -> None:
    """Checked with hashlib and json alone, as an outsider would."""
    prev = hashlib.sha256(b"run").hexdigest()
    for line in lines([{"a": 1}, {"b": 2}, {"c": 3}]).splitlines():
        entry = json.loads(line)
        assert list(entry) == ["t_s", "utc", "kind", "data", "prev"]
        assert entry["prev"] == prev
        prev = hashlib.sha256(line).hexdigest()


@given(st.data())
def test_one_changed_bit_breaks_the_chain_there(data: st.DataObject) -> None:
    whole = bytearray(lines([{"n": number} for number in range(5)]))
    at = data.draw(st.integers(0, len(whole) - 1))
    before = bytes(whole).count(b"\n", 0, at)
    whole[at] ^= 1 << data.draw(st.integers(0, 7))
    read = journal_from(bytes(whole), "run")
    # The changed line may still be a good line of its own; then the next does not follow it.
    assert before <= len(read.entries) <= before + 1
    last = before == 4
    assert read.tail is not None or (last and read.prev != journal_from(lines([{}]), "run").prev)


def test_a_journal_of_another_run_does_not_chain() -> None:
    assert journal_from(lines([{}]), "other").entries == ()


@given(st.integers(min_value=0))
def test_a_cut_last_line_is_the_tail(at: int) -> None:
    whole = lines([{"n": 1}, {"n": 2}])
    cut = whole[: at % len(whole)]
    read = journal_from(cut, "run")
    assert len(read.entries) == cut.count(b"\n")
    assert read.good_bytes + (read.tail.bytes_cut if read.tail else 0) == len(cut)


def test_entries_say_how_many_rows_stood_before_them(tmp_path: Path) -> None:
    clock = HandClock()
    with new_run(tmp_path, clock) as folder:
        measure_step(folder, clock, 1)
        measure_step(folder, clock, 2)
    rows = [(entry.kind, entry.row) for entry in read_run(folder.folder).journal]
    assert rows == [
        ("began", 0),
        ("speed", 0),
        ("steady point", 12),
        ("speed", 12),
        ("steady point", 24),
    ]
    first = json.loads((folder.folder / JOURNAL_FILE).read_text().splitlines()[2])
    assert first["data"]["row"] == 12


def test_a_row_of_the_callers_own_is_refused(tmp_path: Path) -> None:
    with new_run(tmp_path) as folder, pytest.raises(ValueError, match="row"):
        folder.append("act", {"row": 1})


@given(st.binary())
def test_bytes_stay_readable_as_text(raw: bytes) -> None:
    text = bytes_as_text(raw)
    assert text.isascii()
    assert text_as_bytes(text) == raw


def test_values_of_every_kind_become_json() -> None:
    @dataclasses.dataclass
    class Pair:
        left: float
        right: tuple[int, ...]

    class Number(enum.IntEnum):
        TWO = 2

    value = {
        "pair": Pair(0.1, (1, 2)),
        "quality": Quality.BAD,
        "number": Number.TWO,
        "array": np.arange(3),
        "scalar": np.float64(0.1),
        "whole": np.int64(7),
        "flag": np.bool_(True),
        "at": datetime(2026, 1, 2, tzinfo=UTC),
        "raw": b"\x1b[2J",
        "not finite": [float("nan"), float("inf"), np.float64("-inf")],
        "path": Path("a"),
        "set": {"b", "a"},
    }
    assert parse(one_line(value)) == {
        "pair": {"left": 0.1, "right": [1, 2]},
        "quality": "bad",
        "number": 2,
        "array": [0, 1, 2],
        "scalar": 0.1,
        "whole": 7,
        "flag": True,
        "at": "2026-01-02T00:00:00+00:00",
        "raw": "\\x1b[2J",
        "not finite": ["nan", "inf", "-inf"],
        "path": "a",
        "set": ["a", "b"],
    }
    assert plain(Quality.OK) == "ok"


@given(JSON)
def test_writing_what_was_read_gives_the_same_bytes(value: object) -> None:
    """The seal relies on it: any changed byte of seal.json shows."""
    data = many_lines(value)
    assert many_lines(parse(data)) == data


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"[" * 100_000, "nested"),
        (b"[" * (DEEPEST + 2) + b"]" * (DEEPEST + 2), "nested"),
        (b'{"a":' * 200 + b"1" + b"}" * 200, "nested"),
        (b'{"a":1,"a":2}', "twice"),
        (b"[NaN]", "NaN is not a number"),
        (b"[-Infinity]", "not a number"),
        (b"\xff", "not UTF-8"),
        (b"{", "is not JSON"),
        (b"1" * 5000, "cannot be read"),
        (b"[1e999]", "too large"),
    ],
)
def test_json_that_no_writer_makes_is_refused_clearly(
    tmp_path: Path, text: bytes, words: str
) -> None:
    path = tmp_path / "run.json"
    path.write_bytes(text)
    with pytest.raises(RunFileError, match=words) as caught:
        read_json(path)
    assert str(path) in str(caught.value)
    assert len(str(caught.value)) < 400


def test_a_huge_file_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "run.json"
    with path.open("wb") as file:
        file.truncate(10**10)
    with pytest.raises(RunFileError, match="too large"):
        read_json(path)
