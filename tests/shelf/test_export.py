"""Exports as other programs read them: Python's csv module, and openpyxl."""

from __future__ import annotations

import csv
import io
import json
from datetime import datetime, timedelta
from pathlib import Path

import openpyxl
import pytest

from acquire.errors import RunFileError
from acquire.record.run_header import Snapshot
from acquire.shelf import exporting
from acquire.shelf.export_columns import POINT_COLUMNS, RUN_COLUMNS
from acquire.shelf.exporting import points_to_csv, runs_to_csv, to_xlsx
from acquire.shelf.shelf import open_shelf
from acquire.shelf.wanted import Wanted
from tests.record.runs import finished_run
from tests.shelf.shelves import FIRST_DAY, Told, put, run_id_of, verdict_of

NASTY = '=HYPERLINK("http://example.invalid","x")'


def read_csv(path: Path) -> list[dict[str, str]]:
    text = path.read_bytes().decode("utf-8")
    assert text.endswith("\r\n")
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two runs, one with texts that would calculate."""
    shelf = tmp_path / "runs"
    put(shelf, Told("aaaa", serial=NASTY, unit='14 V, "ferry"', stage="before", job="+49"))
    put(shelf, Told("bbbb", FIRST_DAY + timedelta(days=1), serial=NASTY, stage="after",
                    outcome="fail"))  # fmt: skip
    return shelf


def test_csv_holds_a_line_a_run_and_no_text_that_calculates(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    with open_shelf(folder) as shelf:
        assert runs_to_csv(shelf, Wanted(), str(out)).runs == 2
    after, before = read_csv(out)
    assert list(after) == list(RUN_COLUMNS)
    assert before["serial"] == f"'{NASTY}"
    assert before["job_number"] == "'+49"
    assert before["unit"] == '14 V, "ferry"'
    assert float(before["top_amps"]) == 91.5
    assert (before["simulated"], before["claim"]) == ("false", "")
    assert (before["after"], after["before"]) == (after["run_id"], before["run_id"])


def test_csv_names_the_rule_or_what_the_method_allows_in_words(
    folder: Path, tmp_path: Path
) -> None:
    rule = Snapshot(title="At most 8 A below (invented)", origin="user", text="")
    named = put(folder, Told("cccc", FIRST_DAY + timedelta(days=2)), rule=rule)
    for run in (named, folder / run_id_of(Told("aaaa"))):
        verdict = {**verdict_of("pass"), "acceptance": "at most 10 % below rated"}
        (run / "verdict.json").write_text(json.dumps(verdict))
    out = tmp_path / "out.csv"
    with open_shelf(folder) as shelf:
        runs_to_csv(shelf, Wanted(), str(out))
    assert [row["rule"] for row in read_csv(out)] == [rule.title, "", "at most 10 % below rated"]


def test_csv_of_what_was_searched_for_only(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    with open_shelf(folder) as shelf:
        runs_to_csv(shelf, Wanted(outcomes=("fail",)), str(out))
    assert [row["run_id"][-4:] for row in read_csv(out)] == ["bbbb"]


def test_xlsx_holds_numbers_dates_and_texts_as_such(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.xlsx"
    with open_shelf(folder) as shelf:
        assert to_xlsx(shelf, Wanted(), out).runs == 2
    book = openpyxl.load_workbook(out)
    assert book.sheetnames == ["runs", "points"]
    heading, after, before = book["runs"].iter_rows()
    assert [cell.value for cell in heading] == list(RUN_COLUMNS)
    cells = dict(zip(RUN_COLUMNS, before, strict=True))
    assert cells["serial"].value == NASTY
    assert cells["serial"].data_type == "s"  # text: "f" would be a formula
    assert cells["job_number"].data_type == "s"
    assert (cells["top_amps"].value, cells["top_amps"].data_type) == (91.5, "n")
    assert cells["simulated"].value is False
    began = cells["began_utc"]
    assert began.data_type == "d"
    assert began.value == FIRST_DAY.replace(tzinfo=None)
    assert isinstance(began.value, datetime)
    assert cells["claim"].value is None
    assert after[0].hyperlink is None
    book.close()


def test_points_are_those_of_the_record(tmp_path: Path) -> None:
    """A whole sealed run, exported and read back: the figures of curve.csv, to the last digit."""
    shelf_folder, out, sheet = tmp_path / "runs", tmp_path / "p.csv", tmp_path / "p.xlsx"
    run = finished_run(shelf_folder)
    with open_shelf(shelf_folder) as shelf:
        assert points_to_csv(shelf, Wanted(), str(out)).points == 3
        assert to_xlsx(shelf, Wanted(), sheet).points == 3
    with (run / "curve.csv").open(newline="", encoding="utf-8") as file:
        recorded = list(csv.DictReader(file))
    rows = read_csv(out)
    assert [row["run_id"] for row in rows] == [run.name] * 3
    assert [{name: row[name] for name in recorded[0]} for row in rows] == recorded
    book = openpyxl.load_workbook(sheet)
    lines = [[cell.value for cell in line] for line in book["points"].iter_rows(min_row=2)]
    book.close()
    amps = POINT_COLUMNS.index("amps")
    assert [line[amps] for line in lines] == [float(row["amps"]) for row in recorded]


def test_runs_whose_folder_is_not_here_are_counted(folder: Path, tmp_path: Path) -> None:
    with open_shelf(folder) as shelf:  # their folders hold no curve
        done = points_to_csv(shelf, Wanted(), str(tmp_path / "p.csv"))
    assert (done.runs, done.points, done.not_here) == (2, 0, 2)


def test_points_that_do_not_fit_on_a_sheet_are_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    finished_run(tmp_path / "runs")
    monkeypatch.setattr(exporting, "MOST_SHEET_ROWS", 3)
    with open_shelf(tmp_path / "runs") as shelf:
        done = to_xlsx(shelf, Wanted(), tmp_path / "p.xlsx")
    assert (done.points, done.left_out) == (3, 1)


@pytest.mark.parametrize("write", [runs_to_csv, points_to_csv])
def test_a_file_that_cannot_be_written_is_named(
    folder: Path, tmp_path: Path, write: object
) -> None:
    assert callable(write)
    with open_shelf(folder) as shelf, pytest.raises(RunFileError, match="nowhere"):
        write(shelf, Wanted(), str(tmp_path / "nowhere" / "out.csv"))
    with open_shelf(folder) as shelf, pytest.raises(RunFileError, match="nowhere"):
        to_xlsx(shelf, Wanted(), tmp_path / "nowhere" / "out.xlsx")


def test_an_export_that_fails_leaves_the_old_file_and_nothing_else(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out.csv"
    out.write_text("old")

    def fail(*_ignored: object) -> list[object]:
        raise RuntimeError("in the middle")

    monkeypatch.setattr(exporting, "run_cells", fail)
    with open_shelf(folder) as shelf:
        with pytest.raises(RuntimeError):
            runs_to_csv(shelf, Wanted(), str(out))
        with pytest.raises(RuntimeError):
            to_xlsx(shelf, Wanted(), tmp_path / "out.xlsx")
    assert out.read_text() == "old"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out.csv", "runs"]
