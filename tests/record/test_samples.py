"""samples.csv: exact numbers, strict CSV, cheap rows."""

from __future__ import annotations

import csv
import io
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.errors import RunFileError
from acquire.record.run_time import RunTime
from acquire.record.samples import HEADING, SampleRows, iterate_samples, samples_from
from drivers.clock import HandClock
from drivers.readings import Quality, Reading
from profiles.channels import CHANNEL_NAMES

SOMEWHERE = Path("samples.csv")
FINITE = st.floats(allow_nan=False, allow_infinity=False)
NAMES = st.sampled_from(CHANNEL_NAMES)
FAULTS = st.sampled_from([quality for quality in Quality if quality is not Quality.OK])
GOOD = st.tuples(NAMES, FINITE, FINITE).map(lambda three: Reading(*three))
NOT_OK = st.tuples(NAMES, FINITE, st.none(), FAULTS).map(lambda four: Reading(*four))


def table(readings: list[Reading]) -> bytes:
    return HEADING + SampleRows().rows(readings)


@given(st.lists(GOOD | NOT_OK))
def test_every_reading_reads_back_to_the_same_float(
    tmp_path_factory: pytest.TempPathFactory, readings: list[Reading]
) -> None:
    path = tmp_path_factory.getbasetemp() / "samples.csv"
    path.write_bytes(table(readings))
    back = list(iterate_samples(path))
    assert [repr(one) for one in back] == [repr(one) for one in readings]
    assert samples_from(path, path.read_bytes()).tail is None


@given(st.lists(GOOD | NOT_OK))
def test_rows_are_csv_of_rfc_4180(readings: list[Reading]) -> None:
    """Read strictly by the standard library, as a peer."""
    text = table(readings).decode()
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert rows[0] == ["t_s", "channel", "value", "quality"]
    assert text.count("\r\n") == len(rows) == len(readings) + 1
    assert all(len(row) == 4 for row in rows)
    for row, reading in zip(rows[1:], readings, strict=True):
        assert row[1] == reading.channel
        assert row[3] == reading.quality.value
        assert (float(row[2]) if row[2] else None) == reading.value


@given(FINITE)
def test_the_text_is_the_shortest_that_reads_back(value: float) -> None:
    """numpy's shortest digits (Dragon4), another implementation, are never fewer."""
    text = SampleRows().rows([Reading("amps", 0.0, value)]).split(b",")[2]
    digits = text.split(b"e")[0].replace(b".", b"").strip(b"-0")
    shortest = np.format_float_scientific(value, unique=True).split("e")[0]
    assert len(digits) == len(shortest.replace(".", "").strip("-0"))


@given(st.lists(GOOD, min_size=1, max_size=4), st.integers(min_value=0))
def test_a_cut_last_row_is_the_tail(readings: list[Reading], at: int) -> None:
    whole = table(readings)
    cut = whole[: len(HEADING) + at % (len(whole) - len(HEADING))]
    found = samples_from(SOMEWHERE, cut)
    assert found.rows == cut.count(b"\r\n") - 1
    assert found.good_bytes + (found.tail.bytes_cut if found.tail else 0) == len(cut)


@pytest.mark.parametrize(
    "row",
    [
        b"1,amps,1_0,ok",
        b"1,amps, 1,ok",
        b"1,amps,nan,ok",
        b"1,amps,,ok",
        b"1,amps,2,bad",
        b"1,amps,2,fine",
        b"1,=amps,2,ok",
        b"\x00\x00\x00",
        b"1,amps,2",
    ],
)
def test_a_row_no_writer_of_ours_makes_ends_the_whole_rows(row: bytes) -> None:
    found = samples_from(SOMEWHERE, HEADING + b"1.0,amps,2.0,ok\r\n" + row + b"\r\n")
    assert found.rows == 1
    assert found.tail is not None


def test_a_value_that_is_not_finite_is_no_value() -> None:
    rows = SampleRows().rows([Reading("amps", 1.0, float("nan")), Reading("amps", 1.0, None)])
    assert rows == b"1.0,amps,,bad\r\n1.0,amps,,bad\r\n"


def test_numbers_of_numpy_and_whole_numbers_are_written_plainly() -> None:
    rows = SampleRows().rows(
        [Reading("amps", np.float64(0.5), np.float64(1.25)), Reading("x", 1, 2)]
    )
    assert rows == b"0.5,amps,1.25,ok\r\n1.0,x,2.0,ok\r\n"


def test_a_channel_name_cannot_calculate_or_break_a_row() -> None:
    row = SampleRows().rows([Reading('=1+1,"\x1b', 1.0, 2.0)])
    assert row == b'1.0,"\'=1+1,""\\x1b",2.0,ok\r\n'


def test_a_file_with_another_heading_is_refused() -> None:
    with pytest.raises(RunFileError, match="does not begin with t_s,channel"):
        samples_from(SOMEWHERE, b"t,channel\r\n")


def test_the_run_time_goes_on_from_where_it_was() -> None:
    clock = HandClock(start_s=1000.0)
    run_time = RunTime(clock, already_s=60.0)
    clock.advance(1.25)
    assert run_time.now_s() == 61.25
    assert run_time.reading(Reading("amps", 1000.5, 1.0)).t_s == 60.5


def test_a_row_costs_less_than_five_microseconds() -> None:
    """Processor time, best of several; writing to the disk comes on top (one call a batch)."""
    rows = SampleRows()
    batch = [Reading("amps", 0.1 * n, 50.123456 + n * 0.001) for n in range(1000)]
    spent = []
    for _ in range(7):
        began = time.process_time()
        rows.rows(batch)
        spent.append((time.process_time() - began) / len(batch))
    assert min(spent) < 5e-6
