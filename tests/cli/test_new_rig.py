"""`rig new`: an instrument that is not taken leads to another port or another instrument."""

from __future__ import annotations

import io
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from acquire.cli import new_rig
from acquire.errors import OrderError

SILENT = "COM9"
"""Nothing answers there."""


@pytest.fixture
def tried(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, str]]:
    """The instruments that were asked for a reading, each with its port."""
    asked: list[tuple[str, str]] = []

    def say(_channel: str, found: dict[str, Any], _values: dict[str, Any]) -> bool:
        asked.append((found["like"], found["port"]))
        return bool(found["port"] != SILENT)

    monkeypatch.setattr(new_rig, "_say_reading", say)
    meters = [("meter-a", "Meter A"), ("meter-b", "Meter B")]
    monkeypatch.setattr(new_rig, "_described", lambda place: meters if place == "amps" else [])
    return asked


def answers(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def channels(monkeypatch: pytest.MonkeyPatch, *amps: str) -> dict[str, Any]:
    """What became of the questions for the current, answered so."""
    answers(monkeypatch, *amps)
    values: dict[str, Any] = {"title": "Bench"}
    found = new_rig._channel("amps", "output current", needed=True, values=values)
    assert found is not None
    assert sys.stdin.readline() == "", "every answer was asked for"
    return found


def test_no_leads_to_another_port_of_the_same_instrument(
    monkeypatch: pytest.MonkeyPatch,
    tried: list[tuple[str, str]],
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = channels(monkeypatch, "1", "COM3", "no", "1", "COM4", "no", "1", "COM5", "yes")
    assert found == {"like": "meter-a", "port": "COM5"}
    assert tried == [("meter-a", "COM3"), ("meter-a", "COM4"), ("meter-a", "COM5")]
    said = capsys.readouterr().err
    assert "Not taken. What instead?" in said
    assert said.count("Which instrument reads the output current?") == 1


def test_no_leads_to_another_instrument(
    monkeypatch: pytest.MonkeyPatch, tried: list[tuple[str, str]]
) -> None:
    found = channels(monkeypatch, "1", "COM3", "no", "2", "2", "COM4", "yes")
    assert found == {"like": "meter-b", "port": "COM4"}
    assert tried == [("meter-a", "COM3"), ("meter-b", "COM4")]


def test_a_silent_instrument_is_taken_only_by_who_says_so(
    monkeypatch: pytest.MonkeyPatch, tried: list[tuple[str, str]]
) -> None:
    found = channels(monkeypatch, "1", SILENT, "", "1", "COM3", "")
    assert found == {"like": "meter-a", "port": "COM3"}
    assert len(tried) == 2
    found = channels(monkeypatch, "1", SILENT, "yes")
    assert found["port"] == SILENT


def test_a_whole_rig_is_asked_for_and_written(
    monkeypatch: pytest.MonkeyPatch, tried: list[tuple[str, str]], tmp_path: Path
) -> None:
    out = tmp_path / "bench.toml"
    none_else = ["1", "1", "1", "2", "", ""]
    """No case temperature, no ripple, no drive, nothing named as a load; the usual limits."""
    answers(monkeypatch, "Bench 2", "1", "3", "1", *none_else)
    assert new_rig.new_rig(out=str(out)) == out
    rig = tomllib.loads(out.read_text(encoding="utf-8"))
    assert rig["title"] == "Bench 2"
    assert set(rig["channels"]) == {"shaft_rpm", "amps", "volts"}
    assert tried == []


def test_a_file_that_is_there_is_told_before_anything_else_is_asked(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    out = tmp_path / "bench.toml"
    out.write_text("x")
    answers(monkeypatch, "Bench 2")
    with pytest.raises(OrderError, match="is there already"):
        new_rig.new_rig(out=str(out))
    assert out.read_text() == "x"
