"""Every check of the day on the bench can fail: a program broken on purpose is found out."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

import acquire.pump_watch
import drivers.drive
import drivers.port
import drivers.scpi
from acquire.errors import RunFileError
from acquire.guard import Guard
from acquire.record.curve_table import CURVE_FILE, CurveRow
from acquire.record.run_folder import RunFolder
from acquire.stop_path import StopEvent, StopPath, StopReport
from drivers.readings import Reading
from drivers.simulated.prime_mover import DriveMotor
from tests.endurance.held import Held, growth
from tests.endurance.judged import breaches, shelf_breaches
from tests.endurance.made import AT_SPEED_S, swept
from tests.endurance.sweep_run import Happened


def nothing(*_arguments: object, **_more: object) -> None:
    """A part that does not do what it is for."""


def kinds(happened: Happened) -> set[str]:
    return {one.kind for one in breaches(happened)}


def told_of(happened: Happened, kind: str) -> str:
    return "; ".join(one.words for one in breaches(happened) if one.kind == kind)


def test_a_sweep_in_order_has_no_breach(tmp_path: Path) -> None:
    happened = swept(tmp_path)
    assert happened.parts[0].announced
    assert kinds(happened) == set()


def test_a_lost_point_shows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def only_said(_run: RunFolder, measured: Any, *_more: object, **_named: object) -> CurveRow:
        return CurveRow.of(measured)

    monkeypatch.setattr(RunFolder, "take_point", only_said)
    assert "lost point" in kinds(swept(tmp_path))


def test_a_wrong_reading_shows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drivers.scpi.ScpiDriver, "_get_in_step", nothing)
    happened = swept(tmp_path, ("twice, later", "ammeter", AT_SPEED_S))
    assert "wrong reading" in kinds(happened)


def test_a_drive_left_running_shows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drivers.drive.DriveLine, "_halt", nothing)
    monkeypatch.setattr(DriveMotor, "_fall_silent", nothing)
    found = kinds(swept(tmp_path))
    assert {"drive left running", "late stop"} <= found


def test_a_killed_program_whose_drive_runs_on_shows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(DriveMotor, "_fall_silent", nothing)
    happened = swept(tmp_path, ("killed", "", AT_SPEED_S))
    assert {"drive left running", "late stop"} <= kinds(happened)


def test_a_program_that_has_ended_cannot_be_killed(tmp_path: Path) -> None:
    """Found by a day of faults: the kill came some seconds after another fault's stop."""
    happened = swept(tmp_path, ("Ctrl-C", "", AT_SPEED_S), ("killed", "", AT_SPEED_S + 4.0))
    ended_s = happened.parts[0].ended_s
    assert AT_SPEED_S < ended_s < AT_SPEED_S + 4.0 < ended_s + happened.comm_timeout_s
    assert [one.kind for one, _at_s in happened.begun_faults] == ["Ctrl-C"]
    assert kinds(happened) == set()


def test_a_stop_that_comes_late_shows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(acquire.pump_watch.PumpWatch, "begin", nothing)
    happened = swept(tmp_path, ("write hangs", "", AT_SPEED_S), for_s=0.5)
    assert kinds(happened) == {"late stop"}


def test_a_file_left_open_shows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stays_open(run: RunFolder) -> None:
        run.sync()

    monkeypatch.setattr(RunFolder, "close", stays_open)
    assert "leak" in kinds(swept(tmp_path))


def test_a_thread_and_a_port_left_behind_show(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drivers.port.Port, "ask_to_close", nothing)
    happened = swept(tmp_path)
    assert any(leak.startswith("thread port") for leak in happened.leaks)
    assert any("ports left open" in leak for leak in happened.leaks)


def test_a_thread_that_dies_shows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def dies(_stop: StopPath, _report: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(StopPath, "_wait_for_rest", dies)
    assert "dead thread" in kinds(swept(tmp_path))


def test_a_run_that_is_not_there_shows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    finish = RunFolder.finish

    def is_lost(run: RunFolder, *arguments: Any, **more: Any) -> object:
        header = finish(run, *arguments, **more)
        shutil.rmtree(run.folder)
        return header

    monkeypatch.setattr(RunFolder, "finish", is_lost)
    assert "unaccounted run" in kinds(swept(tmp_path))


def test_a_seal_that_does_not_hold_shows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    finish = RunFolder.finish

    def spoilt(run: RunFolder, *arguments: Any, **more: Any) -> object:
        header = finish(run, *arguments, **more)
        with (run.folder / "samples.csv").open("a") as samples:
            samples.write("1.0,volts,13.5,ok\n")
        return header

    monkeypatch.setattr(RunFolder, "finish", spoilt)
    assert "seal" in kinds(swept(tmp_path))


def test_a_record_that_does_not_replay_shows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add = RunFolder.add_readings

    def otherwise(run: RunFolder, readings: list[Reading]) -> None:
        amps = [one for one in readings if one.channel == "amps" and one.value]
        more = [one._replace(value=1.01 * (one.value or 0.0)) for one in amps]
        add(run, [*(one for one in readings if one not in amps), *more])

    monkeypatch.setattr(RunFolder, "add_readings", otherwise)
    happened = swept(tmp_path)
    assert kinds(happened) == {"replay"}
    assert "step=1" in told_of(happened, "replay")


def test_a_run_that_does_not_go_on_shows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuses(folder: Path, *_more: object, **_named: object) -> RunFolder:
        raise RunFileError(folder, "cannot be opened again.")

    monkeypatch.setattr("acquire.record.reopen.reopen", refuses)
    happened = swept(tmp_path, ("killed", "", AT_SPEED_S), goes_on=True)
    assert "did not go on" in told_of(happened, "resume")
    assert "cannot be opened again" in told_of(happened, "resume")


def test_a_run_refused_for_a_meter_that_measured_shows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(folder: Path) -> None:
        raise RunFileError(folder, "was stopped because a meter did not measure.")

    monkeypatch.setattr("tests.endurance.sweep_run.interrupted", refuses)
    happened = swept(tmp_path, ("killed", "", AT_SPEED_S), goes_on=True)
    assert "did not measure" in told_of(happened, "resume")


def test_a_point_that_is_lost_by_going_on_shows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    finish, ends = RunFolder.finish, []

    def forgets(run: RunFolder, *arguments: Any, **more: Any) -> object:
        header = finish(run, *arguments, **more)
        ends.append(run.folder)
        if len(ends) == 2:  # the end of the run that went on
            rows = (run.folder / CURVE_FILE).read_text().splitlines(keepends=True)
            (run.folder / CURVE_FILE).write_text("".join(rows[:1] + rows[2:]))
        return header

    monkeypatch.setattr(RunFolder, "finish", forgets)
    monkeypatch.setattr("acquire.record.read_run.with_rows_of_the_journal", lambda rows, _: rows)
    happened = swept(tmp_path, ("SIGTERM", "", 40.0), method="quick", goes_on=True)
    assert happened.parts[0].announced
    assert "after the resume" in told_of(happened, "lost point")


def test_a_drive_that_ignores_the_stop_and_nobody_told_shows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def keeps_quiet(stop: StopPath, report: StopReport, words: str, *, ok: bool = True) -> None:
        said = words.replace("EMERGENCY STOP", "button")
        report.events.append(StopEvent(0.0, said, ok))

    fault = ("drive ignores stop", "", AT_SPEED_S)
    assert "drive left running" not in told_of(swept(tmp_path / "told", fault), "nobody was told")
    monkeypatch.setattr(StopPath, "_event", keeps_quiet)
    happened = swept(tmp_path / "quiet", fault)
    assert "nobody was told" in told_of(happened, "drive left running")


@pytest.mark.parametrize(
    ("rule", "fault", "words"),
    [
        ("_over", ("overvoltage", "", AT_SPEED_S), "over its limit"),
        ("_silence", ("silent", "tachometer", AT_SPEED_S), "blind: silent"),
        ("_silence", ("port gone", "ammeter", AT_SPEED_S), "blind: port gone"),
    ],
)
def test_a_guard_that_does_not_see_shows(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    rule: str,
    fault: tuple[str, str, float],
    words: str,
) -> None:
    assert kinds(swept(tmp_path / "sees", fault)) == set()
    for one in {rule, "_follows", "_slips"}:
        monkeypatch.setattr(Guard, one, nothing)
    assert words in told_of(swept(tmp_path / "blind", fault), "late stop")


def test_a_run_that_the_shelf_does_not_show_is_found_out(tmp_path: Path) -> None:
    happened = swept(tmp_path)
    folder = happened.parts[0].folder
    assert folder is not None
    there = {folder.name: "complete"}
    for rebuilt in (False, True):
        assert list(shelf_breaches(tmp_path, there, rebuilt=rebuilt)) == []
        missing = {**there, "2026-11-26T060000Z-gone-abcd": "complete"}
        (one,) = shelf_breaches(tmp_path, missing, rebuilt=rebuilt)
        assert one.kind == "unaccounted run"
        (wrong,) = shelf_breaches(tmp_path, {folder.name: "running"}, rebuilt=rebuilt)
        assert wrong.kind == "unaccounted run"
        (never,) = shelf_breaches(tmp_path, {}, rebuilt=rebuilt)
        assert "never began" in never.words


def test_what_grows_shows_and_what_is_flat_does_not() -> None:
    flat = [Held(float(hour), 100.0 + hour % 2, 7, 3) for hour in range(25)]
    assert growth(flat) == []
    assert growth([Held(h.hour, 100.0 + h.hour, 7, 3) for h in flat])
    assert growth([*flat[:-1], Held(24.0, 100.0, 8, 3)])
    assert growth([*flat[:-1], Held(24.0, 100.0, 7, 4)])
