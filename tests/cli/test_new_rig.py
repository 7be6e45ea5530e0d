"""`rig new`: an instrument that is not taken leads to another port or another instrument."""

from __future__ import annotations

import io
import sys
import tomllib
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from acquire.cli import new_rig
from acquire.cli.interview import Interview, interview
from acquire.cli.shunt_question import AMPS, MILLIVOLTS, SHUNT_METER, shunt_keys
from acquire.errors import OrderError
from profiles.catalogue import load_instrument

SILENT = "COM9"
"""Nothing answers there."""


@pytest.fixture
def tried(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, str]]:
    """The instruments that were asked for a reading, each with its port."""
    asked: list[tuple[str, str]] = []

    def tried(_channel: str, found: dict[str, Any]) -> new_rig.Trial:
        asked.append((found["like"], found["port"]))
        reads = found["port"] != SILENT
        return new_rig.Trial(reads=reads, words="It reads 60.2 A now." if reads else "Silent.")

    monkeypatch.setattr(new_rig, "_tried", tried)
    meters = [("meter-a", "Meter A"), ("meter-b", "Meter B")]
    monkeypatch.setattr(new_rig, "_described", lambda place: meters if place == "amps" else [])
    return asked


def answers(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def channels(monkeypatch: pytest.MonkeyPatch, *amps: str) -> dict[str, Any]:
    """What became of the questions for the current, answered so."""
    answers(monkeypatch, *amps)
    found = interview(lambda asked: new_rig._channel(asked, "amps", "output current", needed=True))
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


def test_back_asks_the_question_before_and_tries_nothing_anew_that_stays(
    monkeypatch: pytest.MonkeyPatch,
    tried: list[tuple[str, str]],
    capsys: pytest.CaptureFixture[str],
) -> None:
    found = channels(monkeypatch, "1", "COM3", "<", "COM4", "no", "back", "yes")
    assert found == {"like": "meter-a", "port": "COM4"}
    assert tried == [("meter-a", "COM3"), ("meter-a", "COM4")]
    said = capsys.readouterr().err
    assert said.count("Which instrument reads the output current?") == 1, "said once"
    assert said.count("It reads 60.2 A now.") == 3, "said again with the question it goes with"
    assert said.count("Not taken.") == 1


def test_back_goes_over_several_questions_and_stays_at_the_first(
    monkeypatch: pytest.MonkeyPatch, tried: list[tuple[str, str]], tmp_path: Path
) -> None:
    out = tmp_path / "bench.toml"
    answers(monkeypatch, "<", "Wrong", "1", "<", "<", "Right", "1", "3", "1", "1", "1", "1", "1",
            "abc", "<", "2", "17", "250")  # fmt: skip
    new_rig.new_rig(out=str(out))
    rig = tomllib.loads(out.read_text(encoding="utf-8"))
    assert rig["title"] == "Right"
    assert rig["limits"] == {"volts_max": 17.0, "amps_max": 250.0}
    assert "load" not in rig, "what was said before going back is forgotten"


@pytest.mark.parametrize("typed", ["127.0.0.1:5025", "meter.local:5025", "[::1]:5025"])
def test_an_address_without_its_beginning_is_offered_whole(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tried: list[tuple[str, str]],
    typed: str,
) -> None:
    kind = SimpleNamespace(profile=SimpleNamespace(keys={"driver": "scpi"}))
    monkeypatch.setattr(new_rig, "load_instrument", lambda _name: kind)
    assert channels(monkeypatch, "1", typed, "", "")["port"] == f"socket://{typed}"
    said = capsys.readouterr().err
    assert f"Write socket://{typed}, or tcp://{typed} for Modbus." in said
    assert f"[socket://{typed}]" in said
    kind.profile.keys["driver"] = "modbus"
    assert channels(monkeypatch, "1", "", typed, "", "")["port"] == f"tcp://{typed}"
    assert len(tried) == 2


def on_shunt(monkeypatch: pytest.MonkeyPatch, *lines: str) -> dict[str, Any]:
    """What `rig new` writes of a meter on a shunt, answered so."""
    monkeypatch.setattr(new_rig, "_described", lambda _place: [(SHUNT_METER, "on a shunt")])
    return channels(monkeypatch, "1", *lines)


@pytest.mark.usefixtures("tried")
def test_enter_keeps_the_usual_shunt_and_writes_its_scale(monkeypatch: pytest.MonkeyPatch) -> None:
    found = on_shunt(monkeypatch, "", "", "COM3", "")
    assert found == {
        "like": SHUNT_METER, "port": "COM3", "scale": 5000.0, "plausible": [-330.0, 330.0],
    }  # fmt: skip


@pytest.mark.usefixtures("tried")
def test_another_shunt_has_another_scale_and_its_meter_another_step_in_amps(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    found = on_shunt(monkeypatch, "0", "600", "<", "600", "60", "COM3", "")
    assert (found["scale"], found["plausible"]) == (10000.0, [-660.0, 660.0])
    assert found["accuracy"] == {
        "percent_of_reading": 0.25, "percent_of_range": 0.02, "range": 600.0, "resolution": 0.02,
    }  # fmt: skip
    said = capsys.readouterr().err
    assert "It must be more than 0." in said
    assert "One millivolt is 10 A: scale = 10000." in said
    assert shunt_keys(100.0, 75.0)["scale"] == 1333.33


def test_the_question_for_a_shunt_begins_at_the_shipped_one() -> None:
    keys = load_instrument(SHUNT_METER).profile.keys
    usual = shunt_keys(AMPS, MILLIVOLTS)
    assert usual == {"scale": keys["scale"], "plausible": keys["plausible"]}


def test_what_an_instrument_reads_is_said_with_its_unit_of_measure() -> None:
    assert new_rig._measured("amps", 60.249) == "60.2 A"
    assert new_rig._measured("shaft_rpm", 1499.6) == "1500 rpm"
    assert new_rig._measured("volts", -0.001) == "0.00 V"


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


def test_of_a_drive_and_a_load_it_is_said_that_they_are_not_tried(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    parts = [("part", "A part")]
    monkeypatch.setattr(new_rig, "_described", lambda _place: parts)
    answers(monkeypatch, "2", "COM7", "", "", "3", "COM8")
    values: dict[str, Any] = {"rig": {}}

    def talk(asked: Interview) -> None:
        new_rig._ask_drive(asked, values)
        new_rig._ask_load(asked, values)

    interview(talk)
    assert (values["drive"]["port"], values["load"]["port"]) == ("COM7", "COM8")
    assert capsys.readouterr().err.count("It is not tried now: `steadyamps rig check` does") == 2
