"""The live bench: takes readings from the wires, records them, steps the sweep, carries it out.

One thread pumps: readings in, record, guard, sweep, commands out. The stop path has its own
thread and does not need this one; whatever ends the pump trips it.
"""

from __future__ import annotations

import contextlib
import math
import threading
from collections import deque
from dataclasses import dataclass, field

from acquire.drive_look import DriveLook
from acquire.findings.burst_lines import CHANNEL, BurstLines, BurstSeen
from acquire.findings.seen import CANNOT_SEE, REFUSED, WARM_UP_OVER, noted
from acquire.guard import ClockWatch, Guard
from acquire.hands_at_stop import Hand, HandsAtStop
from acquire.judge.steady_point import SteadyPoint
from acquire.judging import WarmUpRan, warm_up_of
from acquire.lookout import Lookout
from acquire.points import PointMaker, measured_of
from acquire.pump_watch import PumpWatch
from acquire.record.run_folder import RunFolder
from acquire.stop_path import StopPath, StopReason
from acquire.sweep.commands import (
    Act,
    AskCheck,
    CannotSee,
    Command,
    FieldSwitch,
    Finished,
    HaltDrive,
    HandsOn,
    HoldVolts,
    LoadNoticed,
    LoadSwitch,
    Refused,
    Remark,
    RunDrive,
    SetBank,
    SetShaftRpm,
    StepTaken,
    TickDecided,
    TypeReading,
    ZeroTaken,
)
from acquire.sweep.sweep import Sweep
from acquire.wires import Pending, Wires
from drivers.clock import Clock, steady_s
from drivers.readings import Reading
from profiles.errors import BenchError

PUMP_WAIT_S = 0.05
APART_S = 0.25
"""Readings are looked at no more often than that: waking for each of them costs more than they. The
set speed moves in steps of as long."""
HALT_S = 5.0
"""A drive that is found turning gets so long to take the stop; then the stop path tries [s]."""
RAW_BYTES = 200
ANSWER_WITHIN_S = 15.0
"""A command that has no end by then [wall s] hangs with its port; a slow one fails long before."""


@dataclass(slots=True)
class BenchView:
    """What a screen may show; replaced as a whole, never changed in place by the screen."""

    t_s: float = 0.0
    latest: dict[str, Reading] = field(default_factory=dict)
    hands: HandsOn | None = None
    question: TypeReading | None = None
    check: AskCheck | None = None
    """Set by the bench, cleared by who asks."""
    points: list[SteadyPoint] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    load_on: bool | None = None
    """None: nothing has been said of the load yet."""
    load_since_s: float = 0.0
    """When it was last switched, in the run's time [s]."""


class Bench:
    """Runs one sweep on one rig, from the first reading to the rig at rest."""

    def __init__(
        self,
        *,
        sweep: Sweep,
        guard: Guard,
        stop: StopPath,
        wires: Wires,
        record: RunFolder,
        points: PointMaker,
        clock: Clock,
        hand: Hand | None = None,
        burst_lines: BurstLines | None = None,
        drive_look: DriveLook | None = None,
    ) -> None:
        """`record` is open; its time is the time of this run. `hand`: a simulated operator.

        `burst_lines`: of a fast channel. `drive_look`: where the drive's output is no channel.
        """
        self.sweep = sweep
        self.points = points
        self.guard = guard
        self._lookout = Lookout(guard, stop, clock)
        self.view = BenchView()
        self.warm_up: WarmUpRan | None = None
        self._stop = stop
        self._wires = wires
        self._record = record
        self._clock = clock
        self._acts: deque[Act] = deque()
        self._pending: list[tuple[str, Pending, float]] = []
        """Commands under way: name, what becomes of it, when it was told [wall s]."""
        self._failure: BaseException | None = None
        self._under_way = False
        self._stepped_rows = self._rows_before = record.sample_rows
        self._from_s = record.time.now_s()
        """Readings from before the run began (or went on) are left out."""
        self._hand = hand
        self._at_stop = HandsAtStop(
            self.view,
            by_hand=wires.load is None,
            hand=hand,
            note=lambda kind, data, t_s: record.append(kind, data, t_s=t_s),
        )
        self._burst_lines = burst_lines
        self._drive_look = drive_look
        self._watch = ClockWatch(clock.monotonic_s(), clock.utc().timestamp())
        self._turns = 0
        self._next_s = -math.inf
        self._pump_watch = PumpWatch(
            lambda: self._turns, lambda words: stop.trip(StopReason("error", words))
        )
        self._thread = threading.Thread(target=self._pump, name="bench pump", daemon=True)

    # ---- from the screen -------------------------------------------------------------------

    def start(self) -> None:
        """Begin; returns at once."""
        self._wires.readings.watched_by(self._lookout.see)
        self._thread.start()
        self._pump_watch.begin()

    def act(self, act: Act) -> None:
        """The operator wants something other than waiting."""
        self._acts.append(act)

    def stop(self, reason: StopReason) -> None:
        """Bring the rig to rest; returns at once."""
        self._stop.trip(reason)

    @property
    def under_way(self) -> bool:
        """True once the drive was told to run; without a drive once the first step has begun."""
        return self._under_way

    def wait(self, timeout_s: float | None = None) -> bool:
        """True when the run is over and the rig at rest (or as near to it as it came)."""
        self._thread.join(timeout_s)
        return not self._thread.is_alive()

    @property
    def pile_closed(self) -> bool:
        """True while a load that only hands can open is closed, as far as that was seen."""
        return self._at_stop.pile_closed

    def quiet(self) -> tuple[str, float]:
        """The watched channel without a good reading for longest, and for how long [s]."""
        return self._lookout.quiet()

    @property
    def failure(self) -> BaseException | None:
        """What ended the pump, when it was neither the sweep nor a stop."""
        return self._failure

    def now_s(self) -> float:
        """Time since the run began [s]."""
        return self._record.time.now_s()

    # ---- the pump --------------------------------------------------------------------------

    def _pump(self) -> None:
        try:
            while not self._stop.tripped:
                self._turn()
        except BaseException as error:  # noqa: BLE001 - whatever it is, the rig comes to rest first
            self._failure = error
            self._stop.trip(StopReason("error", _words(error)))
        finally:
            self._pump_watch.end()
        self._note_stopping()
        self._record_until_rest()
        with contextlib.suppress(BenchError):  # the record may be what failed
            self._at_stop.last_call(self._stop.report, self.now_s())

    def _note_stopping(self) -> None:
        """Say where the sweep ended: readings recorded from here on decide nothing."""
        report = self._stop.report
        reason = {"kind": report.reason.kind, "why": report.reason.words} if report else {}
        with contextlib.suppress(BenchError):  # the record may be what failed
            self._note_trip()
            self._record.append("stopping", {**reason, "stepped_rows": self._stepped_rows})

    def _turn(self) -> None:
        """One round: readings, guard, sweep, commands."""
        self._clock.sleep_s(self._next_s - self._clock.monotonic_s())
        self._next_s = self._clock.monotonic_s() + APART_S
        self._turns += 1
        readings = self._take()
        now_s = self.view.t_s = self.now_s()
        self._lookout.tick()
        if self._drive_look is not None:
            self._lookout.trip_on(self._drive_look.turn(now_s))
        self._lookout.trip_on(
            self._watch.tick(self._clock.monotonic_s(), self._clock.utc().timestamp())
        )
        self._note_trip()
        self._check_pending()
        if self._hand is not None:
            self._hand.moves(now_s)
        if self._stop.tripped:
            return
        self._rows_before, self._stepped_rows = self._stepped_rows, self._record.sample_rows
        self._carry_out(self.sweep.step(now_s, readings), now_s)
        self._see_begun()
        while self._acts:
            act = self._acts.popleft()
            self._record.append("act", {"act": type(act).__name__, **_facts(act)}, t_s=now_s)
            self._carry_out(self.sweep.act(now_s, act), now_s)

    def _see_begun(self) -> None:
        if self.sweep.begun and not self._under_way and not self.sweep.plan.driven:
            self._under_way = True
            self._lookout.watch_silence()

    def _take(self) -> list[Reading]:
        """New readings in run time, recorded; the guard saw them when they came."""
        taken = [self._record.time.reading(r) for r in self._wires.readings.take(PUMP_WAIT_S)]
        readings = [reading for reading in taken if reading.t_s >= self._from_s]
        if readings:
            self._record.add_readings(readings)
        for reading in readings:
            self.view.latest[reading.channel] = reading
            if not reading.usable and (reading.raw or reading.note):
                self._refused(reading)
        for event in self._wires.events():
            data = {"where": event.where, "what": event.kind, "words": event.words}
            self._record.append("port", data, t_s=self._record.time.of(event.t_s))
        return readings

    def _refused(self, reading: Reading) -> None:
        data = {"channel": reading.channel, "quality": reading.quality.value, "note": reading.note}
        raw = reading.raw[:RAW_BYTES]
        self._record.append("refused reading", {**data, "raw": raw}, t_s=reading.t_s)

    def _record_until_rest(self) -> None:
        """Go on recording while the stop path works."""
        try:
            while self._stop.wait(0.0) is None:
                self._at_stop.look(self._stop.report, self._take(), self.now_s())
        except BaseException as error:  # noqa: BLE001 - the record may be what failed; wait for rest
            self._failure = self._failure or error
            self._stop.wait()

    def _note_trip(self) -> None:
        """What the lookout tripped on, for the journal."""
        trip = self._lookout.trip_to_note()
        if trip is not None:
            self._record.append("guard tripped", _facts(trip))

    def _check_pending(self) -> None:
        for what, pending, told_s in self._pending:
            if pending.done and pending.error is not None:
                self._lost(what, str(pending.error))
            elif not pending.done and steady_s() - told_s > ANSWER_WITHIN_S:
                self._lost(what, f"no end after {ANSWER_WITHIN_S:g} s: its port hangs.")
        self._pending = [one for one in self._pending if not one[1].done]

    def _lost(self, what: str, why: str) -> None:
        self._stop.trip(StopReason("lost", f"{what}: {why}"))
        self._record.append("command failed", {"what": what, "why": why})

    # ---- commands --------------------------------------------------------------------------

    def _carry_out(self, commands: list[Command], now_s: float) -> None:
        for command in commands:
            self._do(command, now_s)

    def _do(self, command: Command, now_s: float) -> None:
        match command:
            case TickDecided():
                self._record.append("tick", {}, t_s=now_s)
            case Remark(kind, data, words):
                if kind == WARM_UP_OVER:
                    self.warm_up = warm_up_of(data)
                self._record.append(kind, {**data, "words": words} if words else data, t_s=now_s)
                self._tell_operator(words)
            case StepTaken():
                self._take_point(command, now_s)
            case ZeroTaken():
                self.points.zero = command
                self._record.append("zero taken", _facts(command), t_s=now_s)
            case HandsOn():
                self.view.hands = command
                self._record.append("hands", _facts(command), t_s=now_s)
                if self._hand is not None:
                    self._hand.told(command, now_s)
            case LoadNoticed(on):
                self._lookout.load_is_on(on=on)
                self._see_load(now_s, on=on)
                self._record.append("load noticed", {"on": on}, t_s=now_s)
            case TypeReading():
                self.view.question = command
            case AskCheck():
                self.view.check = command
            case CannotSee(words):
                self._record.append(CANNOT_SEE, {"why": words}, t_s=now_s)
                self._stop.trip(StopReason("lost", words))
            case Refused(words, for_good):
                data = {"why": words, "for_good": True} if for_good else {"why": words}
                self._record.append(REFUSED, data, t_s=now_s)
                self._stop.trip(StopReason("guard", words))
            case Finished():
                self._record.append("finished", {}, t_s=now_s)
                self._stop.trip(StopReason("complete", "all steps are over"))
            case _:
                if isinstance(command, LoadSwitch):
                    self._see_load(now_s, on=command.on)
                self._record.append(_name(command), _facts(command), t_s=now_s)
                self._tell_instruments(command, now_s)

    def _see_load(self, now_s: float, *, on: bool) -> None:
        if on is not self.view.load_on:
            self.view.load_on, self.view.load_since_s = on, now_s

    def _take_point(self, step: StepTaken, now_s: float) -> None:
        """The steady point is on the disk before the sweep goes on."""
        point = self.points.take(step)
        evidence = dict(step.look.evidence) if step.look is not None else {}
        try:
            self._record.take_point(
                measured_of(point), {"evidence": evidence, **noted(step)}, t_s=now_s
            )
        except BenchError:
            if all(row.step != point.step for row in self._record.curve):
                self._stepped_rows = self._rows_before  # refused: a replay must not take it either
            raise
        self.view.points = [*self.view.points, point]
        self._note_lines(step, now_s)

    def _note_lines(self, step: StepTaken, now_s: float) -> None:
        """The lines of the step's last burst of ripple, for the findings."""
        burst = self._wires.burst(CHANNEL) if self._burst_lines is not None else None
        if burst is None or self._burst_lines is None:
            return
        seen = BurstSeen(self._record.time.of(burst.t_s), burst.sample_s, burst.samples)
        note = self._burst_lines.of(step, seen, now_s=now_s)
        if note is None:
            return
        self._record.append(note.kind, note.data, t_s=now_s)
        self.points.seen.see(note.kind, note.data)
        self._tell_operator(note.words)

    def _tell_operator(self, words: str) -> None:
        if words:
            self.view.notes = [*self.view.notes, words]

    def _tell_instruments(self, command: Command, now_s: float) -> None:
        pending = None if self._stop.tripped else self._send(command, now_s)
        if pending is not None:
            self._pending.append((_name(command), pending, steady_s()))

    def _send(self, command: Command, now_s: float) -> Pending | None:
        drive, load, field_switch = self._wires.drive, self._wires.load, self._wires.field
        match command:
            case RunDrive() if drive is not None:
                self._under_way = True
                self._lookout.told_to_run()
                if self._drive_look is not None:
                    self._drive_look.told_to_run(now_s)
                return drive.run()
            case HaltDrive() if drive is not None:
                return drive.begin_halt(HALT_S)
            case SetShaftRpm(shaft_rpm) if drive is not None:
                self._lookout.told_speed(shaft_rpm)
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
