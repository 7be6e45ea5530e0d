"""The live bench: takes readings from the wires, records them, steps the sweep, carries it out.

One thread pumps: readings in, record, guard, sweep, commands out. The stop path has its own
thread and does not need this one; whatever ends the pump trips it.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from acquire.guard import ClockWatch, Guard, Trip
from acquire.stop_path import StopPath, StopReason
from acquire.sweep.commands import (
    Act,
    Command,
    FieldSwitch,
    Finished,
    HandsOn,
    HoldVolts,
    LoadSwitch,
    Remark,
    RunDrive,
    SetBank,
    SetShaftRpm,
    StepTaken,
    TickDecided,
    TypeReading,
)
from acquire.sweep.sweep import Sweep
from drivers.clock import Clock
from drivers.readings import Reading
from profiles.errors import BenchError

PUMP_WAIT_S = 0.05
TAIL_S = 2.0


class Pending(Protocol):
    """A command on its way to an instrument."""

    @property
    def done(self) -> bool: ...

    @property
    def error(self) -> BenchError | None: ...


class DriveWires(Protocol):
    """What the bench asks of a drive; stopping it is the stop path's business."""

    def run(self) -> Pending: ...

    def set_shaft_rpm(self, shaft_rpm: float) -> Pending: ...


class LoadWires(Protocol):
    """What the bench asks of a load."""

    def hold_volts(self, volts: float) -> Pending: ...

    def on(self) -> Pending: ...

    def off(self) -> Pending: ...

    def set_bank(self, closed: tuple[bool, ...]) -> Pending: ...


class FieldWires(Protocol):
    """What the bench asks of a field switch."""

    def on(self) -> Pending: ...

    def off(self) -> Pending: ...


class Readings(Protocol):
    """Where readings come from, in order."""

    def take(self, wait_s: float) -> list[Reading]: ...


class Recorder(Protocol):
    """Keeps what happens, as it happens."""

    def sample(self, reading: Reading) -> None: ...

    def journal(self, kind: str, data: Mapping[str, object], t_s: float) -> None: ...

    def step_taken(self, step: StepTaken) -> None:
        """Compute the steady point, write its row, and see it on the disk before returning."""
        ...

    def flush(self) -> None: ...


@dataclass(frozen=True, slots=True)
class Wires:
    """Everything that talks on this rig."""

    readings: Readings
    drive: DriveWires | None = None
    load: LoadWires | None = None
    field: FieldWires | None = None


@dataclass(slots=True)
class BenchView:
    """What a screen may show; replaced as a whole, never changed in place by the screen."""

    t_s: float = 0.0
    latest: dict[str, Reading] = field(default_factory=dict)
    hands: HandsOn | None = None
    question: TypeReading | None = None
    steps: list[StepTaken] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


class Bench:
    """Runs one sweep on one rig, from the first reading to the rig at rest."""

    def __init__(
        self,
        *,
        sweep: Sweep,
        guard: Guard,
        stop: StopPath,
        wires: Wires,
        recorder: Recorder,
        clock: Clock,
        began_s: float,
    ) -> None:
        """`began_s`: clock time that is t = 0 of this run [s]."""
        self.sweep = sweep
        self.guard = guard
        self.view = BenchView()
        self._stop = stop
        self._wires = wires
        self._recorder = recorder
        self._clock = clock
        self._began_s = began_s
        self._acts: deque[Act] = deque()
        self._pending: list[tuple[str, Pending]] = []
        self._failure: BaseException | None = None
        self._running = False
        self._watch = ClockWatch(clock.monotonic_s(), clock.utc().timestamp())
        self._thread = threading.Thread(target=self._pump, name="bench pump", daemon=True)

    # ---- from the screen -------------------------------------------------------------------

    def start(self) -> None:
        """Begin; returns at once."""
        self._thread.start()

    def act(self, act: Act) -> None:
        """The operator wants something other than waiting."""
        self._acts.append(act)

    def stop(self, reason: StopReason) -> None:
        """Bring the rig to rest; returns at once."""
        self._stop.trip(reason)

    @property
    def ran_the_drive(self) -> bool:
        """True once the drive has been told to run."""
        return self._running

    def wait(self, timeout_s: float | None = None) -> bool:
        """True when the run is over and the rig at rest (or as near to it as it came)."""
        self._thread.join(timeout_s)
        return not self._thread.is_alive()

    @property
    def failure(self) -> BaseException | None:
        """What ended the pump, when it was neither the sweep nor a stop."""
        return self._failure

    def now_s(self) -> float:
        """Time since the run began [s]."""
        return self._clock.monotonic_s() - self._began_s

    # ---- the pump --------------------------------------------------------------------------

    def _pump(self) -> None:
        try:
            while not self._stop.tripped:
                self._turn()
        except BaseException as error:  # noqa: BLE001 - whatever it is, the rig comes to rest first
            self._failure = error
            self._stop.trip(StopReason("error", _words(error)))
        self._record_until_rest()

    def _turn(self) -> None:
        """One round: readings, guard, sweep, commands."""
        readings = [self._in_run_time(r) for r in self._wires.readings.take(PUMP_WAIT_S)]
        for reading in readings:
            self._recorder.sample(reading)
            self.view.latest[reading.channel] = reading
            self._trip_on(self.guard.see(reading))
        if readings:
            self._recorder.flush()
        now_s = round(self.now_s(), 6)
        self.view.t_s = now_s
        self._trip_on(self.guard.tick(now_s))
        self._trip_on(self._watch.tick(self._clock.monotonic_s(), self._clock.utc().timestamp()))
        self._check_pending()
        if self._stop.tripped:
            return
        self._carry_out(self.sweep.step(now_s, readings), now_s)
        while self._acts:
            act = self._acts.popleft()
            self._recorder.journal("act", {"act": type(act).__name__, **_facts(act)}, now_s)
            self._carry_out(self.sweep.act(now_s, act), now_s)

    def _in_run_time(self, reading: Reading) -> Reading:
        """Time since the run began, to the microsecond: what the file keeps is what decides."""
        return Reading(
            channel=reading.channel,
            t_s=round(reading.t_s - self._began_s, 6),
            value=reading.value,
            quality=reading.quality,
            span_s=reading.span_s,
            raw=reading.raw,
            note=reading.note,
        )

    def _record_until_rest(self) -> None:
        """Go on recording while the stop path works, and a little longer."""
        try:
            while self._stop.wait(0.0) is None:
                for reading in self._wires.readings.take(PUMP_WAIT_S):
                    moved = self._in_run_time(reading)
                    self._recorder.sample(moved)
                    self.view.latest[moved.channel] = moved
                self._recorder.flush()
        except BaseException as error:  # noqa: BLE001 - the record may be what failed; wait for rest
            self._failure = self._failure or error
            self._stop.wait()

    def _trip_on(self, trip: Trip | None) -> None:
        if trip is None or self._stop.tripped:
            return
        self._stop.trip(StopReason("guard", trip.words))
        self._recorder.journal("guard tripped", _facts(trip), self.now_s())

    def _check_pending(self) -> None:
        for what, pending in self._pending:
            if pending.done and pending.error is not None:
                self._stop.trip(StopReason("lost", f"{what}: {pending.error}"))
                self._recorder.journal("command failed", {"what": what}, self.now_s())
        self._pending = [(what, p) for what, p in self._pending if not p.done]

    # ---- commands --------------------------------------------------------------------------

    def _carry_out(self, commands: list[Command], now_s: float) -> None:
        for command in commands:
            if self._stop.tripped:
                return
            self._do(command, now_s)

    def _do(self, command: Command, now_s: float) -> None:
        match command:
            case TickDecided():
                self._recorder.journal("tick", {}, now_s)
            case Remark(kind, data):
                self._recorder.journal(kind, data, now_s)
            case StepTaken():
                self._recorder.step_taken(command)
                self.view.steps = [*self.view.steps, command]
            case HandsOn():
                self.view.hands = command
                self._recorder.journal("hands", _facts(command), now_s)
            case TypeReading():
                self.view.question = command
            case Finished():
                self._recorder.journal("finished", {}, now_s)
                self._stop.trip(StopReason("complete", "all steps are over"))
            case _:
                self._recorder.journal(_name(command), _facts(command), now_s)
                self._tell_instruments(command, now_s)

    def _tell_instruments(self, command: Command, now_s: float) -> None:
        pending = self._send(command, now_s)
        if pending is not None:
            self._pending.append((_name(command), pending))

    def _send(self, command: Command, now_s: float) -> Pending | None:
        drive, load, field_switch = self._wires.drive, self._wires.load, self._wires.field
        match command:
            case RunDrive() if drive is not None:
                self._running = True
                self.guard.told_to_run(now_s)
                return drive.run()
            case SetShaftRpm(shaft_rpm) if drive is not None:
                self.guard.told_speed(now_s, shaft_rpm)
                return drive.set_shaft_rpm(shaft_rpm)
            case HoldVolts(volts) if load is not None:
                return load.hold_volts(volts)
            case LoadSwitch(on) if load is not None:
                return load.on() if on else load.off()
            case SetBank(closed) if load is not None:
                return load.set_bank(closed)
            case FieldSwitch(on) if field_switch is not None:
                return field_switch.on() if on else field_switch.off()
            case _:
                return None


def _name(command: Command) -> str:
    """`SetShaftRpm` -> `set shaft rpm`, as the journal says it."""
    name = type(command).__name__
    return "".join(f" {c.lower()}" if c.isupper() else c for c in name).strip()


def _facts(value: object) -> dict[str, object]:
    """The fields of a value class, for the journal."""
    names = getattr(type(value), "__slots__", ())
    return {name: getattr(value, name) for name in names}


def _words(error: BaseException) -> str:
    return str(error) if isinstance(error, BenchError) else f"{type(error).__name__}: {error}"


Observer = Callable[[BenchView], None]
