"""`profiles check settings.toml`: every error of the settings at once."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pytest

from acquire.cli.main import run
from acquire.record.keys import new_key, public_path


@pytest.fixture
def settings(nobody_elses_settings: Path) -> Path:
    return nobody_elses_settings / "settings.toml"


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def told(capsys: pytest.CaptureFixture[str], name: str = "settings.toml") -> dict[str, Any]:
    code = run(["--json", "profiles", "check", name])
    (found,) = json.loads(capsys.readouterr().out)
    assert code == (0 if found["ok"] else 2)
    assert isinstance(found, dict)
    return found


def keys(found: dict[str, Any]) -> list[str]:
    return [one["key"] for one in found["problems"]]


def test_good_settings_are_called_good(
    settings: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    key = new_key(tmp_path / "own.pem")
    settings.write_text(
        f"[workshop]\nname = 'Quay Electrics (invented)'\n[report]\nlanguage = 'de'\n"
        f"[shelf]\nfolder = '{tmp_path}'\n[seal]\nkey = '{tmp_path / 'own.pem'}'\n"
        f"trust = ['{key.public.fingerprint}', '{public_path(tmp_path / 'own.pem')}']\n"
    )
    assert told(capsys) == {"file": "settings.toml", "ok": True, "problems": [], "cautions": []}
    assert run(["profiles", "check", "settings.toml"]) == 0
    assert f"{settings}: good. Settings" in capsys.readouterr().out


def test_unknown_keys_and_wrong_values_come_all_at_once(
    settings: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    settings.write_text("[report]\npaper = 'A5'\nlangauge = 'de'\n[shelf]\nfolder = 3\n[sael]\n")
    found = told(capsys)
    assert set(keys(found)) == {"report.paper", "report.langauge", "shelf.folder", "sael"}
    assert 'Did you mean \\"language\\"' in json.dumps(found)


def test_what_the_settings_name_is_looked_for_all_at_once(
    settings: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    settings.write_text(
        f"[report]\nlanguage = 'xx'\n[shelf]\nfolder = '{tmp_path / 'no' / 'runs'}'\n"
        "url = 'sqlite:///x'\n[seal]\nkey = 'gone.pem'\ntrust = ['gone.pub.pem']\n"
    )
    assert keys(told(capsys)) == [
        "report.language",
        "shelf.folder",
        "shelf.url",
        "seal.key",
        "seal.trust.0",
    ]


@pytest.mark.skipif(sys.platform == "win32", reason="there drives have letters")
def test_a_drive_letter_in_the_settings_is_an_error_where_there_are_none(
    settings: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    settings.write_text("[shelf]\nfolder = 'D:/runs'\n")
    assert keys(told(capsys)) == ["shelf.folder"]


def test_what_is_not_there_yet_is_a_caution(
    settings: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    settings.write_text(f"[workshop]\nlogo = 'logo.png'\n[shelf]\nfolder = '{tmp_path / 'runs'}'\n")
    found = told(capsys)
    shelf, logo = found["cautions"]
    assert "not there yet" in shelf
    assert "without a logo" in logo


def test_no_settings_are_told_with_the_place_where_they_belong(
    settings: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (problem,) = told(capsys)["problems"]
    assert str(settings) in problem["what_to_do"]


def test_settings_of_this_folder_are_checked_and_said_not_to_be_those_in_use(
    settings: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "settings.toml").write_text("[report]\npaper = 'letter'\n")
    (caution,) = told(capsys)["cautions"]
    assert str(settings) in caution


def test_what_a_file_in_another_folder_names_is_looked_for_beside_it(
    settings: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "brought"
    (folder / "runs").mkdir(parents=True)
    (folder / "logo.png").write_bytes(b"invented")
    new_key(folder / "own.pem")
    text = (
        "[workshop]\nlogo = 'logo.png'\n[shelf]\nfolder = 'runs'\n"
        "[seal]\nkey = 'own.pem'\ntrust = ['own.pub.pem']\n"
    )
    (folder / "settings.toml").write_text(text)
    found = told(capsys, str(folder / "settings.toml"))
    (caution,) = found["cautions"]
    assert "not the one the program reads" in caution
    settings.parent.mkdir(exist_ok=True)
    settings.write_text(text)
    assert keys(told(capsys)) == ["seal.key", "seal.trust.0"]


def test_one_error_hides_nothing_else_that_is_missing(
    settings: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    settings.write_text(
        f"[workshop]\nlogo = 'logo.png'\n[report]\nlangauge = 'de'\n"
        f"[shelf]\nfolder = '{tmp_path / 'runs'}'\n[seal]\ntrust = ['gone.pub.pem']\n"
    )
    found = told(capsys)
    assert keys(found) == ["report.langauge", "seal.trust.0"]
    gone = found["problems"][1]["what_to_do"]
    assert gone == "It is not there: is its name right, or was it moved?"
    shelf, logo = found["cautions"]
    assert "not there yet" in shelf
    assert "without a logo" in logo
