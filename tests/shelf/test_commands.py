"""`steadyamps shelf` as a user types it."""

from __future__ import annotations

import csv
import io
import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from acquire.cli.main import run
from tests.shelf.shelves import FIRST_DAY, Told, put


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three runs and a folder that is none."""
    shelf = tmp_path / "runs"
    put(shelf, Told("aaaa", serial="SF90-1", unit="ferry", stage="before", outcome="fail"))
    put(shelf, Told("bbbb", FIRST_DAY + timedelta(days=1), serial="SF90-1", stage="after"))
    put(shelf, Told("cccc", FIRST_DAY + timedelta(days=2), serial="X\x1b[31m", simulated=True))
    (shelf / "2026-01-01T000000Z-unit-zzzz").mkdir()
    return shelf


def told(capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0) -> dict[str, Any]:
    assert run(["--json", *arguments]) == code
    document = json.loads(capsys.readouterr().out)
    assert isinstance(document, dict)
    return document


def test_list_gives_a_page_with_totals_pairs_and_unreadable_folders(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    document = told(capsys, "--shelf", str(folder), "shelf", "list", "--limit", "2")
    assert [one["run_id"][-4:] for one in document["runs"]] == ["cccc", "bbbb"]
    facts = ("total", "total_exact", "page", "pages", "limit", "server_away")
    assert [document[name] for name in facts] == [3, True, 1, 2, 2, None]
    assert document["runs"][1]["before"].endswith("aaaa")
    assert document["runs"][0]["simulated"] is True
    assert [one["folder"] for one in document["unreadable"]] == ["2026-01-01T000000Z-unit-zzzz"]
    document = told(capsys, "--shelf", str(folder), "shelf", "list", "--limit", "2", "--page", "2")
    assert [one["run_id"][-4:] for one in document["runs"]] == ["aaaa"]


def test_list_in_words_steers_no_terminal_and_says_what_is_simulated(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["--shelf", str(folder), "shelf", "list"]) == 0
    said = capsys.readouterr()
    assert "\x1b" not in said.out + said.err
    assert "SIMULATED" in said.out
    assert "3 runs; page 1 of 1." in said.out
    assert "cannot be listed" in said.err


def test_search_narrows_by_option_and_by_words(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shelf = ("--shelf", str(folder), "shelf", "search")
    assert told(capsys, *shelf, "--serial", "sf901", "--outcome", "fail")["total"] == 1
    assert told(capsys, *shelf, "--stage", "after", "--since", "2026-03", "sf90")["total"] == 1
    assert told(capsys, *shelf, "--real")["total"] == 2
    assert told(capsys, *shelf, "--rated", "small-frame", "--unit", "ferry")["total"] == 1
    assert told(capsys, *shelf, "nothing", "at all")["runs"] == []


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["search", "--since", "soon"], "no date"),
        (["search", "--outcome", "passed"], "Did you mean pass"),
        (["show", "qqqq"], "no run"),
        (["export"], "either --xlsx"),
        (["export", "--csv", "a.csv", "--xlsx", "b.xlsx"], "either --xlsx"),
        (["list", "--limit", "0"], "--limit"),
    ],
)
def test_what_cannot_be_is_told_with_exit_code_2(
    folder: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    assert run(["--shelf", str(folder), "shelf", *arguments]) == 2
    assert said in capsys.readouterr().err


def test_show_gives_the_run_and_its_partner(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    document = told(capsys, "--shelf", str(folder), "shelf", "show", "aaaa")
    assert document["run"]["serial"] == "SF90-1"
    assert document["after"]["run_id"].endswith("bbbb")
    assert document["before"] is None
    assert run(["--shelf", str(folder), "shelf", "show", "bbbb"]) == 0
    said = capsys.readouterr().out
    assert "steadyamps compare" in said
    assert str(folder) in said


def test_rebuild_says_what_was_read_and_what_could_not_be(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    document = told(capsys, "--shelf", str(folder), "shelf", "rebuild")
    assert (document["runs"], document["read"], len(document["unreadable"])) == (3, 4, 1)


def test_export_writes_csv_to_standard_output_or_a_file(
    folder: Path, tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    assert run(["--shelf", str(folder), "shelf", "export", "--csv", "-", "--serial", "sf"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsysbinary.readouterr().out.decode(), newline="")))
    assert [row["outcome"] for row in rows] == ["pass", "fail"]
    out = tmp_path / "out.xlsx"
    arguments = ["--json", "--shelf", str(folder), "shelf", "export", "--xlsx", str(out)]
    assert run(arguments) == 0
    document = json.loads(capsysbinary.readouterr().out)
    assert (document["file"], document["runs"]) == (str(out), 3)
    assert out.stat().st_size > 1000


def test_an_empty_shelf_is_no_error(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    document = told(capsys, "--shelf", str(tmp_path / "none"), "shelf", "list")
    assert (document["total"], document["runs"]) == (0, [])


def test_a_shelf_named_by_option_stays_out_of_the_workshops_server(
    folder: Path, nobody_elses_settings: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Were the server asked, it would be away: nothing listens on port 1."""
    settings = nobody_elses_settings / "settings.toml"
    url = 'url = "postgresql://nobody@127.0.0.1:1/none"'
    settings.write_text(f"[shelf]\nfolder = '{folder.parent / 'own'}'\n{url}\n")
    assert told(capsys, "--shelf", str(folder), "shelf", "list")["server_away"] is None
    settings.write_text(f"[shelf]\nfolder = '{folder}'\n{url}\n")
    document = told(capsys, "shelf", "list")
    assert "127.0.0.1" in document["server_away"]
    assert document["total"] == 3
