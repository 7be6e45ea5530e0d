"""Every way in which the program can no longer see what the rig does ends in a stop, in time.

| what is not seen any more | noticed by | shown by |
|---|---|---|
| shaft speed, current, voltage, drive's output: nothing comes | guard, silence | here |
| readings that come too late | guard, silence by their own time | here |
| a tachometer that repeats itself | guard, slip | here |
| a shaft that does not turn, or a belt off, by any channel | guard, stall | `test_guard_sources` |
| the drive's answer, where its output is a channel | guard, silence | here |
| the drive's answer, where it is not | drive look | here, `endurance/test_drive_not_read` |
| a drive stopped at its own panel | guard, or drive look | here |
| a command that has no end | bench | here |
| the disk refuses; hangs | pump; pump watch | `test_bench`; `endurance/test_mended` |
| the pump hangs; fails | pump watch; the pump itself | `test_pump_watch`; `test_bench` |
| a guard that fails | lookout | `test_lookout` |
| the computer sleeps | clock watch | `test_guard`, `test_bench` |
| the screen fails, hangs, its line is cut | keeper, signals | `screens/test_death` |
| the program is gone | the drive's own time-out | `live/test_stopping`, endurance |
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

import acquire.bench
from acquire.drive_look import LOOK_EVERY_S, DriveLook, look_every_s
from acquire.guard import AFTER_RAMP_S, PERSIST_S, Guard, GuardPlan, Trip
from drivers.readings import Reading
from tests.stop.test_bench import Done, bench_over

SILENT_S = 3.0
EVERY_S = 0.1
VALUES = {"shaft_rpm": 2980.0, "amps": 80.0, "volts": 13.5, "drive_rpm": 3000.0}
PLAN = GuardPlan(highest={}, watched=frozenset(VALUES), silent_s=SILENT_S)


def times(for_s: float, from_s: float = 0.0) -> Iterator[float]:
    return (from_s + EVERY_S * n for n in range(int(for_s / EVERY_S)))


def turning() -> Guard:
    guard = Guard(PLAN)
    guard.told_to_run(0.0)
    guard.told_speed(0.0, 3000.0)
    return guard


def all_in_order(guard: Guard, t_s: float, *, but: str = "", late_s: float = 0.0) -> Trip | None:
    """One reading of each channel, and time passes."""
    trips = [
        guard.see(Reading(name, t_s - late_s, value)) for name, value in VALUES.items()
        if name != but
    ]  # fmt: skip
    return next((trip for trip in (*trips, guard.tick(t_s)) if trip is not None), None)


@pytest.mark.parametrize("channel", VALUES)
def test_a_channel_without_which_it_is_blind_stops_it_within_the_time_of_the_rig_file(
    channel: str,
) -> None:
    guard = turning()
    assert all(all_in_order(guard, t_s) is None for t_s in times(20.0))
    last_s = 20.0 - EVERY_S
    for t_s in times(10.0, from_s=20.0):
        trip = all_in_order(guard, t_s, but=channel)
        if trip is not None:
            assert (trip.kind, trip.channel) == ("silent", channel)
            assert t_s - last_s <= SILENT_S + 2 * EVERY_S
            return
    pytest.fail("it ran on blind")


def test_readings_that_come_too_late_are_no_readings() -> None:
    """A queue that is not emptied in time shows what was, not what is."""
    guard = turning()
    assert all(all_in_order(guard, t_s) is None for t_s in times(20.0))
    late = (all_in_order(guard, t_s, late_s=SILENT_S + 0.5) for t_s in times(2.0, from_s=24.0))
    trip = next((one for one in late if one is not None), None)
    assert trip is not None
    assert trip.kind == "silent"


def test_a_tachometer_that_repeats_itself_is_seen_at_the_next_speed() -> None:
    guard = turning()
    assert all(all_in_order(guard, t_s) is None for t_s in times(20.0))
    guard.told_speed(20.0, 4000.0)
    for t_s in times(10.0, from_s=20.0):
        trips = [
            guard.see(Reading("drive_rpm", t_s, 4000.0)),
            guard.see(Reading("shaft_rpm", t_s, VALUES["shaft_rpm"])),
        ]
        trip = next((one for one in trips if one is not None), None)
        if trip is not None:
            assert trip.kind == "slip"
            assert t_s - 20.0 <= AFTER_RAMP_S + PERSIST_S + 2 * EVERY_S
            return
    pytest.fail("a speed that stands still was believed")


def test_a_drive_stopped_at_its_own_panel_is_seen_by_its_output() -> None:
    guard = turning()
    assert all(all_in_order(guard, t_s) is None for t_s in times(20.0))
    for t_s in times(10.0, from_s=20.0):
        trip = guard.see(Reading("drive_rpm", t_s, 0.0)) or guard.see(
            Reading("shaft_rpm", t_s, 0.0)
        )
        if trip is not None:
            assert trip.kind == "drive"
            assert t_s - 20.0 <= PERSIST_S + 2 * EVERY_S
            return
    pytest.fail("a drive that stands was believed to turn")


# ---- a drive that is not read ----------------------------------------------------------------


@dataclass
class AskedDrive:
    """Answers what a test says; `hangs`: its questions never end."""

    runs: bool = True
    fails: bool = False
    hangs: bool = False
    asked: int = 0

    def begin_look(self) -> Any:
        self.asked += 1
        return Looked(not self.hangs, OSError("no answer") if self.fails else None, self.runs)


@dataclass
class Looked:
    done: bool
    error: BaseException | None
    result: bool | None


def looked(drive: AskedDrive, look: DriveLook, *, from_s: float, for_s: float) -> float | None:
    """When it tripped, after `from_s`."""
    for t_s in times(for_s, from_s=from_s):
        if look.turn(t_s) is not None:
            return t_s - from_s
    return None


def asked(drive: AskedDrive) -> DriveLook:
    look = DriveLook(drive, every_s=0.5, silent_s=SILENT_S, where="COM3", set_by="limits.silent_s")
    assert look.turn(0.0) is None
    assert drive.asked == 0, "nothing is asked before it may turn"
    look.told_to_run(0.0)
    return look


@pytest.mark.parametrize("how", ["fails", "hangs"])
def test_a_drive_that_answers_no_more_stops_the_run_within_the_time_of_the_rig_file(
    how: str,
) -> None:
    drive = AskedDrive()
    look = asked(drive)
    assert looked(drive, look, from_s=0.0, for_s=20.0) is None
    assert drive.asked >= 20
    setattr(drive, how, True)
    took_s = looked(drive, look, from_s=20.0, for_s=10.0)
    assert took_s is not None
    assert took_s <= SILENT_S + 0.5


def test_a_single_answer_that_is_lost_stops_nothing() -> None:
    drive = AskedDrive()
    look = asked(drive)
    assert looked(drive, look, from_s=0.0, for_s=5.0) is None
    drive.fails = True
    assert looked(drive, look, from_s=5.0, for_s=1.0) is None
    drive.fails = False
    assert looked(drive, look, from_s=6.0, for_s=20.0) is None


def test_a_drive_that_was_stopped_by_somebody_else_is_told_apart() -> None:
    drive = AskedDrive(runs=False)
    look = asked(drive)
    assert looked(drive, look, from_s=0.0, for_s=5.0) is None, "its run command is on its way"
    drive.runs = True
    assert looked(drive, look, from_s=5.0, for_s=5.0) is None
    drive.runs = False
    trips = [trip for t_s in times(2.0, from_s=10.0) if (trip := look.turn(t_s)) is not None]
    assert trips
    assert "its own panel" in trips[0].words


def test_a_drive_with_a_time_out_of_its_own_hears_from_us_well_within_it() -> None:
    assert look_every_s(None) == LOOK_EVERY_S
    assert look_every_s(10.0) == LOOK_EVERY_S
    assert look_every_s(0.6) <= 0.2


# ---- a command that has no end ---------------------------------------------------------------


@dataclass
class Endless(Done):
    """A command whose port hangs."""

    done: bool = field(default=False)


@pytest.mark.parametrize("what", ["speed", "load", "volts"])
def test_a_command_that_has_no_end_stops_the_drive_in_bounded_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    running = bench_over(tmp_path)
    wires = running.wires
    sound = wires._done
    told_s: list[float] = []

    def hangs(name: str) -> Done:
        if name == what and not told_s:
            told_s.append(wires.clock.monotonic_s())
            return Endless()
        return sound(name)

    monkeypatch.setattr(wires, "_done", hangs)
    monkeypatch.setattr(acquire.bench, "steady_s", wires.clock.monotonic_s)
    running.bench.start()
    reason = running.over()
    assert reason.kind == "lost"
    assert "hangs" in reason.words
    report = running.stop.report
    assert report is not None
    assert report.tripped_s - told_s[0] <= acquire.bench.ANSWER_WITHIN_S + 1.0
    assert "halt" in wires.said
