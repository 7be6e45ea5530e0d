"""Relative paths in settings.toml count from its own folder, wherever the program is started."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from acquire.cli.main import run
from acquire.cli.places import shelf_folder
from acquire.cli.voice import Voice
from acquire.record.keys import new_key
from acquire.record.signing import key_path, known_keys, workshop_key
from tests.record.runs import finished_run


def _settings(folder: Path, text: str) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "settings.toml").write_text(text, encoding="utf-8")


def test_keys_and_shelf_are_found_from_every_folder(
    nobody_elses_settings: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = new_key(nobody_elses_settings / "keys" / "own.pem")
    partner = new_key(nobody_elses_settings / "keys" / "partner.pem")
    _settings(
        nobody_elses_settings,
        "[shelf]\nfolder = 'runs'\n[seal]\nkey = 'keys/own.pem'\n"
        "trust = ['keys/partner.pub.pem']\n",
    )
    for folder in (tmp_path, nobody_elses_settings, Path(tmp_path.anchor)):
        monkeypatch.chdir(folder)
        signing = workshop_key()
        assert signing is not None
        assert signing.fingerprint == own.fingerprint
        remarks: list[str] = []
        assert known_keys(remarks.append) == {own.fingerprint, partner.fingerprint}
        assert remarks == []
        assert shelf_folder(Voice()) == nobody_elses_settings / "runs"
        assert run(["profiles", "check", "settings.toml"]) == 0


@pytest.mark.parametrize("spoilt", [None, "no key at all"])
def test_a_seal_is_checked_and_reported_without_the_workshops_own_key(
    nobody_elses_settings: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    spoilt: str | None,
) -> None:
    key = new_key(tmp_path / "workshop.pem")
    folder = finished_run(tmp_path / "shelf", key=key)
    _settings(nobody_elses_settings, "[seal]\nkey = 'gone.pem'\n")
    if spoilt is not None:
        key_path().write_text(spoilt)
        key_path().chmod(0o600)
    assert run(["--json", "verify", str(folder)]) == 0
    told = capsys.readouterr()
    found = json.loads(told.out)
    assert (found["sealed"], found["signature"], found["known"]) == (True, "valid", False)
    assert "[seal] key" in told.err
    assert "gone.pem" in told.err
    assert run(["note", str(folder), "--text", "belt changed", "--who", "M. Example"]) == 2
    assert "gone.pem" in capsys.readouterr().err


def test_a_default_key_that_cannot_be_used_is_a_remark_too(
    nobody_elses_settings: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = finished_run(tmp_path / "shelf")
    nobody_elses_settings.mkdir(parents=True, exist_ok=True)
    key_path().write_text("spoilt")
    key_path().chmod(0o600)
    assert run(["verify", str(folder)]) == 0
    assert "The workshop's key" in capsys.readouterr().err
