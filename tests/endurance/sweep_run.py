"""One planned sweep, run in a world of its own: what happened, told to whoever judges it."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any

from acquire.bench import Bench
from acquire.live_run import LiveRun
from acquire.opened_rig import OpenedRig
from acquire.points import measured_of
from acquire.record.curve_table import CurveRow
from acquire.record.read_run import read_run
from acquire.record.run_header import RUN_FILE
from acquire.record.verify import verify
from acquire.resuming import interrupted
from acquire.run_order import RunOrder
from acquire.signal_watch import happened
from acquire.stop_path import StopReason, StopReport
from drivers.reading_queue import ReadingQueue
from drivers.readings import Reading
from drivers.simulated.rig_model import RigModel
from profiles.drive import LoadBank
from profiles.errors import BenchError
from profiles.rig import Rig
from tests.endurance.disk import RoughDisk
from tests.endurance.faults import FOR_EVER_S, KINDS, Planted, Scene, begin, end
from tests.endurance.planned import PlannedSweep
from tests.endurance.put_in import living_in
from tests.endurance.watch import DriveWatch
from tests.endurance.wires import TALKERS, RigWires
from tests.endurance.world import FIRST_UTC, Killed, World
from tests.record.pulled_plug import LoggingDisk, PulledPlug
from tests.record.runs import QUICK

LONGEST_S = {"quick": 900.0, "warm": 4500.0, "fine": 9000.0}
"""No sweep may take longer [s]."""
RESTART_S = 30.0
LOOK_S = 0.5


@dataclass(frozen=True)
class Found:
    """What lay on the shelf after a part."""

    state: str
    rows: tuple[str, ...]
    sealed: bool
    unreadable: str = ""


@dataclass
class Part:
    """One run of the program: the first, or one that went on."""

    began_s: float
    ended_s: float = 0.0
    killed_s: float | None = None
    begun: bool = False
    """The bench was started: the run must be accounted for."""
    sealed: bool = False
    announced: list[str] = field(default_factory=list)
    """Rows of the steady points that were shown as taken."""
    report: StopReport | None = None
    error: str = ""
    folder: Path | None = None
    overdue: bool = False
    left_running: bool = False
    shaft_rpm_after: float = 0.0
    """True speed once the drive should have stopped."""
    found: Found | None = None


@dataclass
class Happened:
    """All that came of a planned sweep."""

    planned: PlannedSweep
    parts: list[Part] = field(default_factory=list)
    accepted: int = 0
    wrong: list[str] = field(default_factory=list)
    begun_faults: list[tuple[Planted, float]] = field(default_factory=list)
    watch: DriveWatch | None = None
    lasted_s: float = 0.0
    hung_s: float | None = None
    """Since when the thread that takes the readings hung in the disk."""
    leaks: list[str] = field(default_factory=list)
    deaths: list[str] = field(default_factory=list)
    """Threads of the program that ended by an error."""
    comm_timeout_s: float = 0.0
    silent_s: float = 0.0


class WorldRig(OpenedRig):
    """The rig of an order, in the world."""

    def __init__(self, order: RunOrder, wires: RigWires) -> None:
        super().__init__(order.rig)
        self._wires = wires

    def _start_simulated(self) -> None:
        self.clock = self._wires.world
        self.simulated_controls = self._wires
        self.rig = filled(self.rig, serial="serial" in self.loaded.profile.title)
        model = self._wires.model
        model.set_ratio(self.rig.ratio)
        if isinstance(self.rig.load, LoadBank):
            model.set_bank({step.bit: step.amps for step in self.rig.load.steps})


def filled(rig: Rig, *, serial: bool) -> Rig:
    """`rig` with addresses that `RigWires.link_for` understands."""

    def one(table: Any) -> Any:
        port = getattr(table, "port", None)
        if not isinstance(port, str) or not port.startswith("simulated:"):
            return table
        name = port.removeprefix("simulated:").replace(" ", "-")
        modbus = name in ("drive", "bank")
        start = "/sim/" if serial else "tcp://sim/" if modbus else "socket://sim/"
        return table.model_copy(update={"port": start + name})

    parts: dict[str, Any] = {"channels": {name: one(c) for name, c in rig.channels.items()}}
    for part in ("drive", "load", "field"):
        if getattr(rig, part) is not None:
            parts[part] = one(getattr(rig, part))
    return rig.model_copy(update=parts)


class SweepRun:
    """Runs a planned sweep; afterwards `happened` says what came of it."""

    def __init__(self, planned: PlannedSweep, shelf: Path) -> None:
        self.planned, self.shelf = planned, shelf
        utc = FIRST_UTC + timedelta(hours=3 * planned.number)
        self.world = World(planned.seed, utc)
        model = RigModel(planned.machine, None, hash_of(planned.seed))
        self.rig = RigWires(model, self.world)
        self.logged = LoggingDisk(shelf) if self._power_cut() else None
        self.disk = RoughDisk(self.logged or QUICK, self.world)
        self.scene = Scene(self.world, self.rig, self.disk, self._signal)
        self.happened = Happened(planned, watch=DriveWatch(self.rig))
        self._healed = False
        self._over = False
        """True from the program's end on: nothing is left to be killed."""
        self._run: LiveRun | None = None
        self._bench: Bench | None = None

    def _power_cut(self) -> bool:
        return any(one.kind == "power cut" for one in self.planned.faults)

    def run(self) -> Happened:
        """From the first reading to the rig at rest, and resumed if so planned."""
        happened, world = self.happened, self.world
        order = self.planned.order()
        drive = order.rig.profile.drive
        happened.silent_s = order.rig.profile.limits.silent_s
        if drive is not None and drive.comm_timeout is not None:
            happened.comm_timeout_s = drive.comm_timeout.set_s
        with living_in(world, self.disk, self.rig.link_for, self._queue):
            self._plant()
            self._program(order, None)
            self._heal()
            first = happened.parts[0]
            there = first.found is not None and first.found.state in ("running", "stopped")
            if first.folder is not None and there and self.planned.goes_on:
                self._program(None, first.folder)
        happened.lasted_s, happened.hung_s = world.now_s, self.disk.pump_hung_s
        return happened

    # ---- the program -----------------------------------------------------------------------

    def _program(self, order: RunOrder | None, going_on: Path | None) -> None:
        """One process's life: begun, ended somehow, and the rig watched until it is at rest."""
        self._over = False
        part = Part(self.world.now_s)
        self.happened.parts.append(part)
        before = _names(self.shelf)
        try:
            self._live(part, order, going_on)
        except Killed:
            part.killed_s = self.world.now_s
            self._dead(part)
        except BenchError as error:
            part.error = f"{type(error).__name__}: {error}"
        if stuck := self.world.stuck():
            raise stuck
        part.ended_s = self.world.now_s
        self._end_of(part)
        new = sorted(_names(self.shelf) - before)
        part.folder = going_on or (self.shelf / new[0] if new else None)
        part.found = look_at(part.folder)

    def _live(self, part: Part, order: RunOrder | None, going_on: Path | None) -> None:
        resumed = None
        if going_on is not None:
            resumed = interrupted(going_on)
            order = resumed.order
        assert order is not None
        opened = WorldRig(order, self.rig)
        with LiveRun(order, shelf=self.shelf, going_on=resumed, opened=opened) as run:
            self._run = run
            run.open()
            self._bench = bench = run.begin({"how": "endurance"})
            part.begun = True
            self._watch_limits(bench)
            until_s = self.world.now_s + LONGEST_S[self.planned.method.split(",")[0]]
            while not bench.wait(LOOK_S):
                if self.world.now_s > until_s:
                    part.overdue = True
                    run.stop(StopReason("operator", "it takes too long"))
            part.report = run.stop_path.report if run.stop_path else None
            end = run.end()
            part.sealed = end.not_finished is None
            part.error = str(end.not_finished or "")

    def _watch_limits(self, bench: Bench) -> None:
        watch, highest = self.happened.watch, bench.guard.highest
        assert watch is not None
        watch.over_rpm = highest.get("shaft_rpm", watch.over_rpm) * 1.01
        watch.over_volts = highest.get("volts", watch.over_volts) + 0.3

    def _dead(self, part: Part) -> None:
        """What the system does when a process is gone, and what the plug does."""
        self.world.bury()
        self.disk.program_gone()
        self.rig.links_open = 0
        if self.scene.pull_the_plug and self.logged is not None:
            self._after_the_cut(self.logged)

    def _after_the_cut(self, logged: LoggingDisk) -> None:
        plug = PulledPlug()
        names = {str(event[1]).split("/")[0] for event in logged.log if event[0] == "make"}
        for event in logged.log:
            if event[0] != "mark":
                plug.play(event)
        kept = self.shelf.parent / "after the cut"
        shutil.rmtree(kept, ignore_errors=True)
        kept.mkdir()
        plug.put(kept, self.world.random)
        for name in names:
            shutil.rmtree(self.shelf / name, ignore_errors=True)
            if (kept / name).is_dir():
                shutil.move(str(kept / name), self.shelf / name)
        logged.log.clear()
        self.scene.pull_the_plug = False

    def _end_of(self, part: Part) -> None:
        """The rig after the program; what the program left behind."""
        self._over = True
        bench, run = self._bench, self._run
        if bench is not None:
            part.announced = [
                CurveRow.of(measured_of(point)).measured_text for point in bench.view.points
            ]
        if part.report is None and run is not None and run.stop_path is not None:
            part.report = run.stop_path.report
        self._run = self._bench = None
        watch = self.happened.watch
        assert watch is not None
        self.world.sleep_s(self.happened.comm_timeout_s + 1.0)
        self.rig.now()
        part.shaft_rpm_after = self.rig.model.shaft_rpm
        part.left_running = watch.running
        if part is self.happened.parts[0]:
            self._heal()
        self.world.sleep_s(RESTART_S)
        self._leaks()

    def _leaks(self) -> None:
        happened, world = self.happened, self.world
        happened.leaks += [f"thread {name}" for name in world.alive]
        if self.disk.handles:
            happened.leaks.append(f"{len(self.disk.handles)} files left open")
            self.disk.program_gone()
        if self.rig.links_open:
            happened.leaks.append(f"{self.rig.links_open} ports left open")
            self.rig.links_open = 0
        happened.deaths += [f"{t.name}: {t.error!r}" for t in world.tasks if t.error is not None]
        world.forget_the_dead()

    # ---- faults ----------------------------------------------------------------------------

    def _plant(self) -> None:
        for one in self.planned.faults:
            self.world.at(one.at_s, self._beginning(one))
            if one.for_s < FOR_EVER_S:
                self.world.at(one.at_s + one.for_s, self._ending(one))

    def _beginning(self, one: Planted) -> Callable[[], None]:
        def act() -> None:
            if self._healed or (self._over and KINDS[one.kind].group == "process"):
                return
            self.happened.begun_faults.append((one, self.world.now_s))
            begin(one, self.scene)

        return act

    def _ending(self, one: Planted) -> Callable[[], None]:
        return lambda: None if self._healed else end(one, self.scene)

    def _heal(self) -> None:
        """Everything in order again."""
        self._healed = True
        for one in self.planned.faults:
            end(one, self.scene)
        self.disk.trouble.kill_in = -1
        self.rig.mend()

    def _signal(self, name: str) -> None:
        """As `SignalWatch` passes it on."""
        if self._run is not None:
            self._run.stop(StopReason("signal", happened(name)))

    # ---- readings --------------------------------------------------------------------------

    def _queue(self) -> ReadingQueue:
        return _CheckedQueue(self.rig, self.happened)


class _CheckedQueue(ReadingQueue):
    """Holds every accepted reading against what was sent."""

    def __init__(self, rig: RigWires, happened: Happened) -> None:
        super().__init__()
        self._rig, self._happened = rig, happened

    def put(self, reading: Reading) -> None:
        if reading.usable:
            self._happened.accepted += 1
            why = self._rig.why_wrong(reading, asked_for=reading.channel not in TALKERS)
            if why is not None:
                self._happened.wrong.append(why)
        super().put(reading)


def hash_of(seed: str) -> int:
    """A number of a text, the same in every process."""
    return int.from_bytes(seed.encode(), "big") % 1_000_003


def _names(shelf: Path) -> set[str]:
    return {one.name for one in shelf.iterdir() if one.is_dir()} if shelf.is_dir() else set()


def look_at(folder: Path | None) -> Found | None:
    """Read a run as anybody would; None where nothing ever began."""
    if folder is None or not (folder / RUN_FILE).is_file():
        return None
    try:
        run = read_run(folder)
    except BenchError as error:
        return Found("", (), sealed=False, unreadable=str(error))
    rows = tuple(row.measured_text for row in run.curve)
    return Found(run.header.state, rows, verify(folder).sealed)
