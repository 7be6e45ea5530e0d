"""What an error says, to people and as a document: what was wrong with what, and what to do."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from acquire.cli.main import run

ENGINE = ["--ratio", "2.5", "--idle", "700", "--cruise", "1400", "--top", "3600"]


def told(capsys: pytest.CaptureFixture[str], *words: str, code: int = 2) -> dict[str, str]:
    """The error as the document has it; on stderr stands the same."""
    assert run(["--json", *words]) == code
    said = capsys.readouterr()
    error = json.loads(said.out)["error"]
    assert isinstance(error, dict)
    assert error["message"]
    assert error["what_to_do"]
    return error


@pytest.fixture
def points(tmp_path: Path) -> str:
    path = tmp_path / "points.csv"
    path.write_text("shaft_rpm,amps\n1500,48\n2000,64\n6000,93\n")
    return str(path)


def test_a_speed_that_is_none_is_told_with_its_own_option(
    points: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert told(capsys, "fit", points, "--at", "abc")["message"].startswith("--at: ")
    words = ["sweep", "--rig", "simulated", "--steps", "abc", "--yes"]
    assert told(capsys, *words)["message"].startswith("--steps: ")


def test_a_profile_of_any_kind_is_missed_as_a_profile(capsys: pytest.CaptureFixture[str]) -> None:
    error = told(capsys, "profiles", "show", "nosuch")
    assert "no profile of this name" in error["message"]
    assert "rated curve" not in error["message"]
    assert "profiles list" in error["what_to_do"]
    hint = told(capsys, "profiles", "show", "simulatd")["what_to_do"]
    assert hint.startswith("Did you mean simulated")


def test_what_is_to_be_matched_may_be_a_run_a_file_or_a_curve(
    capsys: pytest.CaptureFixture[str],
) -> None:
    error = told(capsys, "match", "foo", *ENGINE)
    assert "no run folder, no CSV and no rated curve" in error["message"]
    assert "path of a run" in error["what_to_do"]
    error = told(capsys, "match", "smal-frame-14v-90a", *ENGINE)
    assert "small-frame-14v-90a" in error["what_to_do"]


def test_a_group_without_its_command_is_no_page_of_help(capsys: pytest.CaptureFixture[str]) -> None:
    error = told(capsys, "shelf")
    assert "\n" not in error["message"]
    assert "list, search, show" in error["what_to_do"]
    assert "sweep --help" in told(capsys, "sweep")["what_to_do"]


def test_several_wrong_files_are_told_each_with_its_advice(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bench.toml"
    path.write_text(
        "title = 'Bench'\n[channels.shaft_rpm]\ndriver = 'hand'\n[channels.amps]\n"
        "driver = 'hand'\n[limits]\nvolts_maxx = 16.0\n"
    )
    words = ["sweep", "--rig", str(path), "--rated", "nosuch", "--yes"]
    error = told(capsys, *words)
    assert "limits.volts_maxx" in error["message"]
    assert '"nosuch": there is no rated curve' in error["message"]
    assert "volts_max" in error["what_to_do"].splitlines()[0]
    assert error["what_to_do"].splitlines()[1].startswith('"nosuch": Known: ')


def test_several_dead_instruments_are_told_with_what_to_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bench.toml"
    path.write_text(
        "title = 'Dead bench'\n[channels.shaft_rpm]\ndriver = 'lines'\n"
        "port = 'socket://127.0.0.1:9'\npattern = '(?P<value>[0-9]+)'\nplausible = [0, 9000]\n"
        "[channels.amps]\ndriver = 'scpi'\nport = 'socket://127.0.0.1:10'\nquery = 'MEAS?'\n"
    )
    words = ["--shelf", str(tmp_path), "sweep", "--rig", str(path), "--steps", "1500", "--yes"]
    error = told(capsys, *words, code=5)
    assert [line.split(":")[0] for line in error["message"].splitlines()] == ["shaft_rpm", "amps"]
    assert "is on" in error["what_to_do"]
    assert "\n" not in error["what_to_do"], "the same advice stands there once"
