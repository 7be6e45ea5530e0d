"""A simulated rig runs faster than the wall clock; no run on it begins in the future for that."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from acquire.live_run import LiveRun
from acquire.run_order import RunOrder
from drivers.clock import ScaledClock, SpedUpClock
from drivers.simulated.rig_clock import RigClock
from drivers.simulated.rig_model import RigModel
from profiles.catalogue import load_method, load_rated, load_rig
from profiles.instrument import Calibration
from tests.moved_wall import Wall, moved_wall

PACE = 8.0


@pytest.fixture
def wall(monkeypatch: pytest.MonkeyPatch) -> Wall:
    return moved_wall(monkeypatch)


CLOCKS: dict[str, Callable[[], SpedUpClock]] = {
    "in another process": lambda: ScaledClock(PACE),
    "in this one": lambda: RigClock(RigModel(), PACE),
}


def ahead_s(clock: SpedUpClock, wall: Wall) -> float:
    """How far its date and time lie in the future [s]."""
    return (clock.utc() - wall.utc_now()).total_seconds()


@pytest.mark.parametrize("kind", CLOCKS)
def test_its_time_goes_ahead_and_is_set_to_the_present_without_going_back_itself(
    wall: Wall, kind: str
) -> None:
    clock = CLOCKS[kind]()
    assert ahead_s(clock, wall) == pytest.approx(0.0, abs=1e-3)
    wall.passed_s = 60.0
    assert ahead_s(clock, wall) == pytest.approx(60.0 * (PACE - 1.0), abs=1e-3)
    before_s = clock.monotonic_s()
    clock.set_to_now()
    assert ahead_s(clock, wall) == pytest.approx(0.0, abs=1e-3)
    assert clock.monotonic_s() == before_s
    wall.passed_s = 61.0
    assert ahead_s(clock, wall) == pytest.approx(PACE - 1.0, abs=1e-3)


@pytest.mark.parametrize("kind", CLOCKS)
def test_a_run_begins_at_the_present_however_long_its_rig_was_open(
    wall: Wall, kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on the screens: the rig is opened for the ready page, the run begins minutes later."""
    begun: list[datetime] = []

    def open_record(run: LiveRun, _wiring: object) -> None:
        begun.append(run.clock.utc())
        raise KeyboardInterrupt  # all that matters has been seen

    monkeypatch.setattr(LiveRun, "_opened", lambda _run: (None, None))
    monkeypatch.setattr(LiveRun, "_open_record", open_record)
    run = LiveRun(
        RunOrder(
            rig=load_rig("simulated"),
            method=load_method("quick"),
            rated=load_rated("small-frame-14v-90a"),
        ),
        shelf=tmp_path,
    )
    run.clock = CLOCKS[kind]()
    wall.passed_s = 600.0
    with pytest.raises(KeyboardInterrupt):
        run.begin({})
    (utc,) = begun
    assert abs(utc - wall.utc_now()) < timedelta(milliseconds=1)


@pytest.mark.parametrize("kind", CLOCKS)
def test_a_calibration_is_overdue_by_the_calendar_of_the_bench(
    wall: Wall, kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Due on 1 March; at 20:00 UTC of that day it is the 2nd where the bench stands."""
    kept: list[tuple[str, Mapping[str, object]]] = []

    def append(kind: str, data: Mapping[str, object], **_more: object) -> None:
        kept.append((kind, data))

    def watch(_run: LiveRun, _record: object) -> str:
        raise KeyboardInterrupt  # all that matters has been seen

    record = SimpleNamespace(append=append)
    monkeypatch.setattr(LiveRun, "_opened", lambda _run: (None, None))
    monkeypatch.setattr(LiveRun, "_open_record", lambda _run, _wiring: record)
    monkeypatch.setattr(LiveRun, "_watch_reference", watch)
    order = RunOrder(rig=load_rig("simulated"), method=load_method("quick"), steps=(1500.0, 3000.0))
    run = LiveRun(order, shelf=tmp_path)
    last_day = Calibration(on=date(2025, 3, 1), due=date(2026, 3, 1))
    volts = run.rig.channels["volts"].model_copy(update={"calibration": last_day})
    run.rig = run.rig.model_copy(update={"channels": {**run.rig.channels, "volts": volts}})
    run.clock = CLOCKS[kind]()
    for passed_s, late in ((6 * 3600.0, []), (8 * 3600.0, ["volts"])):
        kept.clear()
        wall.passed_s = passed_s
        with pytest.raises(KeyboardInterrupt):
            run.begin({})
        assert [data["channel"] for what, data in kept if what == "calibration overdue"] == late
