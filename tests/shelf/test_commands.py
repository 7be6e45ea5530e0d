"""`steadyamps shelf` as a user types it."""

from __future__ import annotations

import csv
import io
import json
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from acquire.cli.main import run
from tests.shelf.shelves import FIRST_DAY, Told, put, run_id_of


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


def test_past_the_last_page_the_last_one_is_named(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["--shelf", str(folder), "shelf", "list", "--limit", "2", "--page", "99"]) == 0
    assert capsys.readouterr().out == "There is no page 99: 3 runs, the last page is 2.\n"


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
        (["export"], "Say --xlsx FILE for a spreadsheet, or --csv FILE"),
        (["export", "--points"], "one line a steady point instead of one a run"),
        (["export", "--points"], "--csv FILE --points"),
        (["export", "--csv", "a.csv", "--xlsx", "b.xlsx"], "stand together"),
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


@pytest.mark.parametrize(
    ("host", "began", "ended"),
    [
        ({"utc_offset": "+05:30"}, "2026-03-02 13:30 (UTC+5:30)", "2026-03-02 13:34 (UTC+5:30)"),
        ({"utc_offset": "+00:00"}, "2026-03-02 08:00 UTC", "2026-03-02 08:04 UTC"),
        ({}, "2026-03-02 08:00 UTC", "2026-03-02 08:04 UTC"),
    ],
)
def test_show_tells_times_by_the_clock_of_the_bench_and_json_in_utc(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    host: dict[str, str],
    began: str,
    ended: str,
) -> None:
    put(tmp_path, Told("eeee", began=datetime(2026, 3, 2, 8, tzinfo=UTC)), host=host)
    assert run(["--shelf", str(tmp_path), "shelf", "show", "eeee"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert f"{'began':<14}{began}" in lines
    assert f"{'ended':<14}{ended}" in lines
    document = told(capsys, "--shelf", str(tmp_path), "shelf", "show", "eeee")
    assert document["run"]["began_utc"] == "2026-03-02T08:00:00.000Z"


def test_list_stays_in_utc_and_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    late = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
    put(tmp_path, Told("ffff", began=late), host={"utc_offset": "+01:00"})
    assert run(["--shelf", str(tmp_path), "shelf", "list"]) == 0
    heading, row = capsys.readouterr().out.splitlines()[:2]
    assert heading.startswith("began (UTC)")
    assert row.startswith("2026-03-02 23:30 ")


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


def test_an_empty_shelf_is_no_error_and_neither_is_the_usual_one_before_the_first_test(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    usual = tmp_path / "data" / "runs"
    monkeypatch.setattr("acquire.record.shelf_folder.default_shelf", lambda: usual)
    for place in (["--shelf", str(tmp_path)], []):
        document = told(capsys, *place, "shelf", "list")
        assert (document["total"], document["runs"]) == (0, [])


@pytest.mark.parametrize("arguments", [["list"], ["search", "x"], ["show", "kqzd"], ["rebuild"]])
@pytest.mark.parametrize("by", ["option", "settings"])
def test_a_shelf_that_was_named_and_is_not_there_is_an_error(
    tmp_path: Path,
    nobody_elses_settings: Path,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    by: str,
) -> None:
    gone = tmp_path / "none"
    place = ["--shelf", str(gone)] if by == "option" else []
    (nobody_elses_settings / "settings.toml").write_text(f"[shelf]\nfolder = '{gone}'\n")
    error = told(capsys, *place, "shelf", *arguments, code=2)["error"]
    assert str(gone) in error["message"]
    assert "--shelf" in error["what_to_do"]
    assert not gone.exists()


def test_export_writes_nothing_for_a_shelf_that_is_not_there(tmp_path: Path) -> None:
    out = tmp_path / "out.csv"
    assert run(["--shelf", str(tmp_path / "none"), "shelf", "export", "--csv", str(out)]) == 2
    assert not out.exists()


def test_a_shelf_that_is_a_file_is_an_error(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "runs"
    path.write_text("x")
    assert run(["--shelf", str(path), "shelf", "list"]) == 2
    assert "is a file, no folder" in capsys.readouterr().err


@pytest.mark.skipif(sys.platform == "win32", reason="there drives have letters")
@pytest.mark.parametrize("path", ["D:/runs", "D:\\runs", "d:"])
@pytest.mark.parametrize(
    "arguments", [["shelf", "list"], ["sweep", "--rig", "simulated", "--yes"]], ids=str
)
def test_a_drive_letter_is_refused_where_there_are_no_drives(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    path: str,
    arguments: list[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["--shelf", path, *arguments]) == 2
    assert "drive of Windows" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "screen", [["sweep", "--rig", "simulated", "--yes"], ["rig", "check", "by-hand"]]
)
def test_no_test_makes_the_folders_above_a_shelf(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], screen: list[str]
) -> None:
    assert run(["--shelf", str(tmp_path / "no" / "runs"), *screen]) == 2
    said = capsys.readouterr().err
    assert f"{tmp_path / 'no'}, is not there" in said
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("place", "said"),
    [
        (".", "there"),
        ("runs", "not there yet: the first test makes it"),
        ("no/runs", "NOT there, and neither is the folder above it"),
    ],
)
def test_doctor_says_whether_the_shelf_is_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], place: str, said: str
) -> None:
    document = told(capsys, "--shelf", str(tmp_path / place), "doctor")
    assert document["shelf"] == str(tmp_path / place)
    assert document["shelf folder"].startswith(said)


def test_doctor_says_whether_the_settings_folder_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("STEADYAMPS_CONFIG", str(tmp_path / "config"))
    assert "not there yet" in told(capsys, "doctor")["settings folder"]
    (tmp_path / "config").mkdir()
    assert told(capsys, "doctor")["settings folder"].endswith("(0 profiles of your own)")


def test_an_ending_that_fits_several_runs_is_told_with_all_of_them(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    later = put(folder, Told("aaaa", FIRST_DAY + timedelta(days=9)))
    error = told(capsys, "--shelf", str(folder), "shelf", "show", "aaaa", code=2)["error"]
    assert "several runs" in error["message"]
    assert later.name in error["message"]
    assert run_id_of(Told("aaaa")) in error["message"]
    assert told(capsys, "--shelf", str(folder), "shelf", "show", later.name)["run"]


def test_a_copy_or_an_unreadable_run_of_that_ending_is_told_too(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    put(folder, Told("aaaa"), folder="sent-by-post-aaaa")
    (folder / "2026-01-01T000000Z-unit-bbbb").mkdir()
    for ending, other in (
        ("aaaa", "sent-by-post-aaaa (a copy)"),
        ("bbbb", "2026-01-01T000000Z-unit-bbbb (not listed)"),
    ):
        error = told(capsys, "--shelf", str(folder), "shelf", "show", ending, code=2)["error"]
        assert "several runs" in error["message"]
        assert other in error["message"]


def test_what_is_only_a_copy_elsewhere_is_said_to_be_one(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    error = told(capsys, "--shelf", str(folder), "shelf", "show", "zzzz", code=2)["error"]
    assert "is not listed" in error["message"]


@pytest.mark.parametrize("command", [["shelf", "show"], ["verify"], ["replay"]], ids=str)
def test_an_ending_with_too_few_letters_is_told_how_many_are_wanted(
    folder: Path, capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    error = told(capsys, "--shelf", str(folder), *command, "aaa", code=2)["error"]
    assert "aaa" in error["message"]
    assert "four" in error["what_to_do"]


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
