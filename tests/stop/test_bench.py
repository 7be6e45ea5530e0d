"""The live bench over toy wires: in every phase, whatever happens, the drive is told to stop."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from acquire.bench import Bench
from acquire.errors import RunFileError
from acquire.guard import Guard, GuardPlan
from acquire.points import PointMaker
from acquire.record.read_run import read_run
from acquire.record.run_folder import RunFolder
from acquire.record.run_header import RunHeader
from acquire.stop_path import RigAtStop, StopPath, StopReason
from acquire.sweep.commands import HoldVolts, LoadSwitch, RunDrive, SetShaftRpm
from acquire.sweep.plan import WarmUp
from acquire.sweep.sweep import Sweep
from acquire.wires import Wires
from drivers.clock import HandClock
from drivers.readings import Reading
from profiles.catalogue import load_rig
from profiles.errors import BenchError
from tests.sweep.test_sweep import PLAN
from tests.sweep.toy_rig import EVERY_S, ToyRig

WAIT_S = 60.0


@dataclass
class Done:
    """A command that has ended already."""

    error: BenchError | None = None
    done: bool = True

    def ended_within(self, timeout_s: float) -> bool:
        return timeout_s > 0

    def wait(self, timeout_s: float) -> None:
        assert timeout_s > 0
        if self.error is not None:
            raise self.error


@dataclass
class ToyWires:
    """Readings and actuators of a toy rig; each look for readings moves its clock."""

    rig: ToyRig = field(default_factory=ToyRig)
    clock: HandClock = field(default_factory=HandClock)
    said: list[str] = field(default_factory=list)
    refuse: str = ""
    at_each_look: Callable[[], None] = lambda: None
    lock: threading.Lock = field(default_factory=threading.Lock)
    see: Callable[[Reading], None] = lambda _reading: None

    def take(self, wait_s: float) -> list[Reading]:
        self.at_each_look()
        with self.lock:
            self.clock.advance(EVERY_S)
            began_s = self.clock.monotonic_s()
            readings = [one._replace(t_s=began_s) for one in self.rig.advance()]
        for reading in readings:
            self.see(reading)
        return readings

    def watched_by(self, see: Callable[[Reading], None]) -> None:
        self.see = see

    def seen_rpm(self) -> float:
        """Time goes on while the stop path looks, also when nobody takes readings any more."""
        with self.lock:
            self.clock.advance(EVERY_S)
            self.rig.advance()
            return self.rig.rpm

    def run(self) -> Done:
        self.said.append("run")
        self.rig.carry_out([RunDrive()])
        return self._done("run")

    def set_shaft_rpm(self, shaft_rpm: float) -> Done:
        self.rig.carry_out([SetShaftRpm(shaft_rpm)])
        return self._done("speed")

    def begin_halt(self, deadline_s: float) -> Done:
        self.said.append("halt")
        self.rig.running = False
        self.rig.set_rpm = 0.0
        return Done()

    def hold_volts(self, volts: float) -> Done:
        self.rig.carry_out([HoldVolts(volts)])
        return self._done("volts")

    def on(self) -> Done:
        self.rig.carry_out([LoadSwitch(on=True)])
        return self._done("load")

    def off(self) -> Done:
        return self.begin_off(1.0)

    def begin_off(self, deadline_s: float) -> Done:
        self.said.append(f"load off at {self.rig.rpm:.0f} rpm")
        self.rig.loaded = False
        return Done()

    def set_bank(self, closed: Sequence[bool]) -> Done:
        return Done()

    def _done(self, what: str) -> Done:
        return Done(BenchError(f"{what} was refused.") if what == self.refuse else None)


@dataclass
class Running:
    """A bench over toy wires."""

    wires: ToyWires
    bench: Bench
    stop: StopPath
    record: RunFolder

    def over(self) -> StopReason:
        assert self.bench.wait(WAIT_S)
        report = self.stop.report
        assert report is not None
        assert report.finished
        return report.reason


def header() -> RunHeader:
    return RunHeader(program="test", run_id="x", began_utc="2026-01-01T00:00:00Z")


def bench_over(
    tmp_path: Path, *, plan: Any = PLAN, limits: dict[str, float] | None = None, **wires: Any
) -> Running:
    toy = ToyWires(**wires)
    stop = StopPath(
        RigAtStop(
            drive=toy, load=toy, field=None, shaft_rpm=toy.seen_rpm,
            shed_below_rpm=600.0, coast_s=30.0, clock=toy.clock,
        )
    )  # fmt: skip
    record = RunFolder.create(tmp_path, header(), toy.clock)
    bench = Bench(
        sweep=Sweep(plan),
        guard=Guard(
            GuardPlan(highest=limits or {}, watched=frozenset({"shaft_rpm", "amps"}), silent_s=3.0)
        ),
        stop=stop,
        wires=Wires(toy, events=list, drive=toy, load=toy),
        record=record,
        points=PointMaker(plan, load_rig("simulated").profile),
        clock=toy.clock,
    )
    return Running(toy, bench, stop, record)


def test_a_whole_sweep_ends_complete_with_the_drive_off_and_the_load_shed_last(
    tmp_path: Path,
) -> None:
    running = bench_over(tmp_path)
    running.bench.start()
    assert running.over().kind == "complete"
    assert running.wires.said[0] == "run"
    assert running.wires.said[-2] == "halt"
    assert running.wires.said[-1].startswith("load off")
    assert float(running.wires.said[-1].split()[3]) < 600
    assert [row.step for row in running.record.curve] == [1, 2, 3]


@pytest.mark.parametrize("phase", ["zeroing", "loading", "turning", "warming", "holding"])
def test_a_stop_in_every_phase_takes_the_same_order(tmp_path: Path, phase: str) -> None:
    plan = replace(PLAN, warm_up=WarmUp(3000.0, for_s=60.0, until_steady=False))
    holder: list[Running] = []
    stopped_in: list[str] = []

    def look() -> None:
        running = holder[0]
        if not running.stop.tripped and running.bench.sweep.phase.name == phase:
            stopped_in.append(phase)
            running.bench.stop(StopReason("operator", "space bar"))

    holder.append(bench_over(tmp_path, plan=plan, at_each_look=look))
    holder[0].bench.start()
    assert holder[0].over().kind == "operator"
    assert stopped_in == [phase]
    said = holder[0].wires.said
    assert said[-2] == "halt", "the drive is told to stop even where it was not told to run"
    assert said[-1].startswith("load off")
    assert not holder[0].wires.rig.running


def test_a_reading_over_its_limit_stops_the_drive_and_is_said(tmp_path: Path) -> None:
    running = bench_over(tmp_path, limits={"amps": 50.0})
    running.bench.start()
    reason = running.over()
    assert reason.kind == "guard"
    assert "output current" in reason.words
    assert "halt" in running.wires.said
    running.record.close()
    kinds = [entry.kind for entry in read_run(running.record.folder).journal]
    assert "guard tripped" in kinds
    assert "stopping" in kinds


def test_a_channel_that_falls_silent_stops_the_drive(tmp_path: Path) -> None:
    holder: list[Running] = []

    def unplug() -> None:
        if holder[0].wires.rig.rpm > 1400:
            holder[0].wires.rig.silent.add("shaft_rpm")

    holder.append(bench_over(tmp_path, at_each_look=unplug))
    holder[0].bench.start()
    reason = holder[0].over()
    assert reason.kind == "guard"
    assert "No good reading of the shaft speed" in reason.words
    assert "halt" in holder[0].wires.said
    assert holder[0].bench.quiet()[0] == "shaft_rpm"


@pytest.mark.parametrize("what", ["run", "speed", "load", "volts"])
def test_a_command_that_is_refused_stops_the_drive(tmp_path: Path, what: str) -> None:
    running = bench_over(tmp_path, refuse=what)
    running.bench.start()
    reason = running.over()
    assert reason.kind == "lost"
    assert f"{what} was refused" in reason.words
    assert running.wires.said[-2:-1] == ["halt"]


@pytest.mark.parametrize("error", [RunFileError("samples.csv", "the disk is full."), KeyError("x")])
def test_an_exception_anywhere_in_the_pump_stops_the_drive(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    running = bench_over(tmp_path)
    add = running.record.add_readings

    def fails(readings: Any) -> None:
        if running.wires.rig.rpm > 1000:
            raise error
        add(readings)

    monkeypatch.setattr(running.record, "add_readings", fails)
    running.bench.start()
    reason = running.over()
    assert reason.kind == "error"
    assert str(error) in reason.words or type(error).__name__ in reason.words
    assert "halt" in running.wires.said
    assert running.bench.failure is error


def test_a_computer_that_slept_stops_the_drive(tmp_path: Path) -> None:
    holder: list[Running] = []

    def sleep() -> None:
        wires = holder[0].wires
        if wires.rig.rpm > 1400 and not holder[0].stop.tripped:
            wires.clock._start_utc += timedelta(seconds=100)

    holder.append(bench_over(tmp_path, at_each_look=sleep))
    holder[0].bench.start()
    reason = holder[0].over()
    assert reason.kind == "guard"
    assert "slept" in reason.words
