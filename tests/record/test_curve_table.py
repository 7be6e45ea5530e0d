"""curve.csv and its description."""

from __future__ import annotations

import csv
import io
import json
import logging
import warnings
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.record.csv_text import number_of, text_cell
from acquire.record.csvw import CSVW_FILE
from acquire.record.curve_table import (
    COLUMNS,
    CURVE_FILE,
    CurveRow,
    Judged,
    Measured,
    curve_bytes,
    curve_from,
    judged_rows,
    read_curve,
)
from acquire.record.read_run import read_run
from drivers.clock import HandClock
from tests.record.runs import finish, finished_run, measure_step, new_run

SOMEWHERE = Path("curve.csv")
FIGURE = st.none() | st.floats(allow_nan=False, allow_infinity=False)
MEASURED = st.builds(
    Measured,
    step=st.integers(1, 99),
    set_rpm=FIGURE,
    shaft_rpm=FIGURE,
    u_shaft_rpm=FIGURE,
    amps=FIGURE,
    u_amps=FIGURE,
    volts=FIGURE,
    u_volts=FIGURE,
    case_c=FIGURE,
    settled=st.sampled_from(["yes", "predicted", "no"]),
    settle_s=FIGURE,
    readings=st.none() | st.integers(0, 10**6),
)


def test_the_columns_are_those_of_the_contract() -> None:
    assert ",".join(COLUMNS) == (
        "step,set_rpm,shaft_rpm,u_shaft_rpm,amps,u_amps,volts,u_volts,case_c,settled,settle_s,"
        "readings,amps_at_set_rpm,u_amps_at_set_rpm,rated_amps,limit_amps,margin_amps,p_conform,"
        "outcome"
    )


@given(MEASURED, FIGURE)
def test_a_row_reads_back_the_same(measured: Measured, amps: float | None) -> None:
    row = CurveRow.of(measured, Judged(amps_at_set_rpm=amps, outcome="pass"))
    back = curve_from(SOMEWHERE, curve_bytes([row]))
    assert back.rows == (row,)
    assert back.tail is None


@given(MEASURED)
def test_a_row_is_csv_of_rfc_4180(measured: Measured) -> None:
    text = curve_bytes([CurveRow.of(measured)]).decode()
    (row,) = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    assert tuple(row) == COLUMNS
    assert int(row["step"]) == measured.step
    assert (float(row["amps"]) if row["amps"] else None) == measured.amps


def test_a_step_without_a_usable_reading_is_not_measured() -> None:
    line = CurveRow.of(Measured(3, 2000.0, settled="no")).line()
    assert line == b"3,2000.0,,,,,,,,no,,,,,,,,,not measured\r\n"


def test_judging_leaves_the_measured_text_byte_for_byte() -> None:
    """Also text that this program would have written otherwise."""
    text = curve_bytes([CurveRow.of(Measured(1, 1500.0, amps=50.0))])
    odd = text.replace(b"1500.0", b"1500.000").replace(b"50.0,", b"5.00e1,")
    (row,) = judged_rows(curve_from(SOMEWHERE, odd).rows, {1: Judged(outcome="pass")})
    assert row.line() == b"1,1500.000,,,5.00e1,,,,,no,,,,,,,,,pass\r\n"


def test_ending_a_run_leaves_the_measured_text_byte_for_byte(tmp_path: Path) -> None:
    clock = HandClock()
    folder = new_run(tmp_path, clock)
    for step in (1, 2, 3):
        measure_step(folder, clock, step)
    path = folder.folder / CURVE_FILE
    before = [line.rsplit(",", 7)[0] for line in path.read_text().splitlines()]
    finish(folder)
    after = path.read_text().splitlines()
    assert [line.rsplit(",", 7)[0] for line in after] == before
    assert [line.rsplit(",", 1)[1] for line in after] == ["outcome", "pass", "pass", "pass"]


@pytest.mark.parametrize(
    "line",
    ["1,x,,,,,,,,no,,,,,,,,,", "0,1,,,,,,,,no,,,,,,,,,", "1,1", "\x00", "1,nan,,,,,,,,no,,,,,,,,,"],
)
def test_a_line_that_is_no_row_is_the_tail(line: str) -> None:
    good = CurveRow.of(Measured(7, 1500.0)).line()
    data = curve_bytes([]) + good + line.encode() + b"\r\n"
    read = curve_from(SOMEWHERE, data)
    assert [row.step for row in read.rows] == [7]
    assert read.tail is not None
    assert read.tail.raw == line.encode() + b"\r\n"


def test_a_step_twice_is_the_tail() -> None:
    row = CurveRow.of(Measured(1, 1500.0))
    assert curve_from(SOMEWHERE, curve_bytes([row, row])).tail is not None


@pytest.mark.parametrize("cell", ["1,5", "0x10", "1e999", "inf", "+1", "01", "1.", " 1", "١"])
def test_only_decimal_numbers_are_numbers(cell: str) -> None:
    with pytest.raises(ValueError, match="number"):
        number_of(cell)


@given(st.text())
def test_a_text_cell_never_begins_a_formula_and_reads_back_whole(text: str) -> None:
    """First characters that make a formula: OWASP, "CSV Injection" (= + - @ tab, CR)."""
    cell = text_cell(text)
    ((back,),) = csv.reader([cell], strict=True) if cell else [("",)]
    assert not back.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert all(character.isprintable() or character.isspace() for character in back)
    assert "\x1b" not in back
    assert "\n" not in back


# ---- CSVW ----------------------------------------------------------------------------------


class Complaints(logging.Handler):
    """What a library logged."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.words.append(record.getMessage())


def complaints_of_a_csvw_library(metadata: Path) -> list[str]:
    """The `csvw` package, an implementation from elsewhere of the W3C Recommendations of 2015."""
    from csvw.metadata import CSVW  # type: ignore[import-untyped]

    logged = Complaints()
    logging.getLogger("csvw").addHandler(logged)
    try:
        with warnings.catch_warnings(record=True) as warned:
            warnings.simplefilter("always")
            valid = CSVW(str(metadata), validate=True).is_valid
    except ValueError as error:
        return [str(error)]
    finally:
        logging.getLogger("csvw").removeHandler(logged)
    return logged.words + [str(one.message) for one in warned] + ([] if valid else ["not valid"])


def test_the_description_and_the_table_agree_for_a_csvw_library(tmp_path: Path) -> None:
    assert complaints_of_a_csvw_library(finished_run(tmp_path) / CSVW_FILE) == []


def test_an_interrupted_run_agrees_too(tmp_path: Path) -> None:
    clock = HandClock()
    with new_run(tmp_path, clock) as folder:
        measure_step(folder, clock, 1)
    assert complaints_of_a_csvw_library(folder.folder / CSVW_FILE) == []


@pytest.mark.parametrize(
    ("old", "new"), [(b"1500.1", b"fast"), (b"\r\n2,", b"\r\n1,"), (b"set_rpm", b"speed")]
)
def test_the_library_notices_a_table_that_does_not_agree(
    tmp_path: Path, old: bytes, new: bytes
) -> None:
    folder = finished_run(tmp_path)
    path = folder / CURVE_FILE
    path.write_bytes(path.read_bytes().replace(old, new, 1))
    assert complaints_of_a_csvw_library(folder / CSVW_FILE)


def test_the_description_uses_the_vocabulary_and_names_units_of_measure(tmp_path: Path) -> None:
    """W3C "Metadata Vocabulary for Tabular Data" (2015), sections 5.3 to 5.11."""
    table: dict[str, Any] = json.loads((finished_run(tmp_path) / CSVW_FILE).read_bytes())
    assert table["@context"][0] == "http://www.w3.org/ns/csvw"
    assert table["url"] == CURVE_FILE
    columns = table["tableSchema"]["columns"]
    assert [column["name"] for column in columns] == list(COLUMNS)
    known = {"name", "titles", "datatype", "required", "null", "lang", "default", "separator"}
    for column in columns:
        assert all(key in known or ":" in key for key in column)
    units = {column["name"]: column.get("schema:unitText") for column in columns}
    assert units["amps"] == units["u_amps_at_set_rpm"] == "A"
    assert units["shaft_rpm"] == "rpm"
    assert units["case_c"] == "°C"
    assert units["settle_s"] == "s"


def test_the_curve_read_is_the_curve_of_the_run(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    assert read_curve(folder / CURVE_FILE).rows == read_run(folder).curve
