"""What the readiness list says of a rig at standstill."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from acquire.opened_rig import OpenedRig
from acquire.readiness import (
    Item,
    listen,
    overdue,
    readiness,
    standstill,
    stopping,
    tachometer_against_drive,
)
from drivers.errors import NoAnswer
from drivers.readings import Reading
from profiles.catalogue import Loaded, load_rig, rig_from
from profiles.rig import Rig
from tests.live.commands import steadyamps

TODAY = date(2026, 11, 25)


def items(found: Iterator[Item] | list[Item]) -> dict[str, Item]:
    return {item.name: item for item in found}


@pytest.fixture(scope="module")
def simulated() -> dict[str, Item]:
    with OpenedRig(load_rig("simulated")) as opened:
        wiring = opened.open()
        heard = listen(wiring, opened.clock)
        return items(readiness(opened.rig, wiring, heard, today=TODAY))


def test_each_value_comes_with_its_rate_and_its_age(simulated: dict[str, Item]) -> None:
    for name in ("shaft_rpm", "amps", "volts", "drive_rpm"):
        assert " a second, the last " in simulated[name].words
        assert simulated[name].words.endswith(" s old")


def test_tachometer_and_drive_are_held_against_each_other(simulated: dict[str, Item]) -> None:
    assert simulated["tachometer against drive"].state == "good"


def test_the_stop_path_was_exercised_to_its_end(simulated: dict[str, Item]) -> None:
    assert [simulated[name].state for name in ("stopping", "shedding the load")] == ["good"] * 2


@pytest.mark.parametrize(
    ("shaft", "drive", "state"),
    [(0.0, 0.0, "good"), (1800.0, 1010.0, "good"), (1800.0, 0.0, "bad"), (0.0, 1000.0, "bad")],
)
def test_a_tachometer_that_parts_from_the_drive_is_no_tachometer(
    shaft: float, drive: float, state: str
) -> None:
    rig = load_rig("simulated").profile
    heard = {
        "shaft_rpm": [Reading("shaft_rpm", 1.0, shaft)],
        "drive_rpm": [Reading("drive_rpm", 1.0, drive)],
    }
    (item,) = tachometer_against_drive(rig, heard)
    assert item.state == state


@pytest.mark.parametrize(
    ("channel", "value"), [("engine_rpm", 700.0), ("w_hz", 80.0), ("drive_rpm", 900.0)]
)
def test_whatever_channel_tells_of_it_a_shaft_that_turns_is_bad(channel: str, value: float) -> None:
    (item,) = standstill({channel: [Reading(channel, 1.0, value)]})
    assert item.state == "bad"
    assert not list(standstill({channel: [Reading(channel, 1.0, 0.0)]}))


@dataclass
class Switch:
    """A switch of the field, and what became of it."""

    fails: bool = False
    told: list[str] = field(default_factory=list)

    def off_now(self, deadline_s: float) -> None:
        self.told.append("off")
        if self.fails:
            raise NoAnswer("field", "no answer.", what_to_do="Look at its cable.")


@pytest.mark.parametrize(("fails", "state"), [(False, "good"), (True, "bad")])
def test_the_field_is_switched_off_too_also_without_a_drive(*, fails: bool, state: str) -> None:
    switch = Switch(fails)
    wiring: Any = SimpleNamespace(drive=None, load=None, field=switch)
    found = items(stopping(load_rig("by-hand").profile, wiring))
    assert switch.told == ["off"]
    assert found["switching the field off"].state == state


def calibrated(due: str) -> Rig:
    channel = {"driver": "hand"}
    amps = {**channel, "calibration": {"on": date(2024, 1, 1), "due": date.fromisoformat(due)}}
    return rig_from({"title": "x", "channels": {"shaft_rpm": channel, "amps": amps}}, "x")


def test_a_calibration_is_overdue_from_the_day_after_it_was_due() -> None:
    assert list(overdue(calibrated("2026-11-24"), TODAY)) == [("amps", date(2026, 11, 24))]
    assert not list(overdue(calibrated("2026-11-25"), TODAY))


def test_an_overdue_calibration_is_in_the_record_and_stops_nothing(tmp_path: Path) -> None:
    loaded: Loaded[Rig] = load_rig("simulated")
    text = loaded.text.replace(
        "[channels.volts]\n",
        "[channels.volts]\ncalibration = { on = 2023-01-02, due = 2024-01-02 }\n",
    )
    rig = tmp_path / "rig.toml"
    rig.write_text(text, encoding="utf-8")
    ran = steadyamps(
        "sweep", "--rig", str(rig), "--steps", "3000", "--yes", "--plain", shelf=tmp_path / "shelf"
    )
    assert ran.code == 0
    (run,) = (tmp_path / "shelf").iterdir()
    journal = [json.loads(line) for line in (run / "journal.jsonl").read_text().splitlines()]
    said = [entry["data"] for entry in journal if entry["kind"] == "calibration overdue"]
    assert [(one["channel"], one["due"]) for one in said] == [("volts", "2024-01-02")]
