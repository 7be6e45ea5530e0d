"""One run on a live rig: opened, begun, stopped, judged and sealed, and taken apart in order."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from acquire.asked_checks import answers_in, speed_checks
from acquire.bench import Bench
from acquire.drive_look import DriveLook, look_every_s
from acquire.ending import RunEnd, check_of, end_record, journal_of, keep_answer, tell_server
from acquire.errors import OrderError
from acquire.findings.burst_lines import BurstLines
from acquire.freshness import fresh_for_s
from acquire.guard import Guard
from acquire.guard_plan import drive_is_read, guard_plan
from acquire.judge.checks import Answer, CheckResult
from acquire.opened_rig import OpenedRig
from acquire.points import PointMaker
from acquire.readiness import overdue
from acquire.record.run_folder import RunFolder
from acquire.record.run_header import InstrumentFacts
from acquire.resuming import Interrupted
from acquire.run_order import RunOrder
from acquire.simulated_hand import SimulatedHand
from acquire.stop_path import RigAtStop, StopEvent, StopPath, StopReason
from acquire.sweep.checking import SpeedCheck
from acquire.sweep.plan import SweepPlan
from acquire.sweep.sweep import Sweep
from acquire.wires import Wires
from drivers.bench_wiring import BenchWiring
from drivers.clock import Clock, RealClock, SpedUpClock, bench_day
from profiles.errors import BenchError
from profiles.method import Check
from profiles.rig import Rig

if TYPE_CHECKING:
    from acquire.record.keys import SigningKey

SHED_BELOW_RPM = 600.0
SHED_BELOW_SHARE = 0.5
PUMP_WAIT_S = 5.0
IDLE_WITHIN_S = 15.0
"""A hand on the throttle gets so long to bring the engine to idle before the load goes off."""


class LiveRun:
    """Use as a context: leaving it brings the rig to rest and closes every port."""

    def __init__(
        self,
        order: RunOrder,
        *,
        shelf: Path,
        key: SigningKey | None = None,
        going_on: Interrupted | None = None,
        opened: OpenedRig | None = None,
    ) -> None:
        """`going_on`: the interrupted run that goes on, in its own folder.

        `opened`: the rig of this order where it is open already; it is closed with this run.
        """
        self.order = order
        self._going_on = going_on
        self.plan: SweepPlan = order.plan()
        self._shelf = shelf
        self._key = key
        self._opened_rig = opened or OpenedRig(order.rig)
        self.clock: Clock = RealClock()
        self.rig: Rig = order.rig.profile
        self.wiring: BenchWiring | None = None
        self.stop_path: StopPath | None = None
        self.record: RunFolder | None = None
        self.bench: Bench | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self.stop_path is not None:
            self.stop_path.trip(StopReason("error", str(error) if error else "the program ends"))
            self.stop_path.wait()
        self._opened_rig.close()
        self._close_record()

    def _close_record(self) -> None:
        """What could not be finished is let go of: it can be resumed, here or elsewhere."""
        if self.record is None or (self.bench is not None and not self.bench.wait(PUMP_WAIT_S)):
            return  # never begun, or a disk that hangs holds the pump
        with contextlib.suppress(BenchError):
            self.record.close()

    # ---- opening ---------------------------------------------------------------------------

    def open(self) -> BenchWiring:
        """Open every port, of the simulated rig too where it is one.

        Raises:
            InstrumentError: If a port or a required channel is not usable; all of them at once.
        """
        self.wiring = self._opened_rig.open()
        self.rig, self.clock = self._opened_rig.rig, self._opened_rig.clock
        self.stop_path = self._new_stop_path(self.wiring)
        return self.wiring

    def _new_stop_path(self, wiring: BenchWiring) -> StopPath:
        rig = RigAtStop(
            drive=wiring.drive,
            load=wiring.load,
            field=wiring.field,
            shaft_rpm=self._fresh_shaft_rpm,
            shed_below_rpm=self._shed_below_rpm(),
            coast_s=self.rig.drive.coast_s if self.rig.drive else IDLE_WITHIN_S,
            clock=self.clock,
            pile_closed=lambda: self.bench is not None and self.bench.pile_closed,
            sees_standstill=self.plan.speed_source not in ("drive_rpm", "w_hz"),
        )
        return StopPath(rig, note=self._note_stop)

    def _fresh_shaft_rpm(self) -> float | None:
        """The latest shaft speed, when it is fresh [rpm]."""
        if self.wiring is None:
            return None
        latest = self.wiring.readings.latest(self.plan.speed_source)
        if latest is None or not latest.usable or latest.value is None:
            return None
        if self.clock.monotonic_s() - latest.t_s > fresh_for_s(self.rig, self.plan.speed_source):
            return None
        return latest.value * self.plan.speed_ratio

    def _shed_below_rpm(self) -> float:
        """Surely below cut-in: half the lowest speed of the sweep, at most 600 rpm."""
        lowest = min((step.set_rpm for step in self.plan.steps), default=SHED_BELOW_RPM)
        return min(SHED_BELOW_RPM, SHED_BELOW_SHARE * lowest)

    def _note_stop(self, event: StopEvent) -> None:
        if self.record is not None:
            self.record.append(
                "stop", {"what": event.words, "ok": event.ok}, t_s=self.record.time.of(event.t_s)
            )

    # ---- running ---------------------------------------------------------------------------

    def begin(self, accepted: Mapping[str, object], *, attended: bool = False) -> Bench:
        """Make the run folder and start the bench; `accepted` = cautions and wiring ticked.

        `attended`: somebody is there to answer the checks that belong to a speed.
        """
        wiring, stop_path = self._opened()
        if isinstance(self.clock, SpedUpClock):
            self.clock.set_to_now()
        self.record = self._open_record(wiring)
        self.record.append("cautions accepted", accepted, sync=True)
        for name, due in overdue(self.rig, bench_day(self.clock)):
            self.record.append("calibration overdue", {"channel": name, "due": due.isoformat()})
        reference = self._watch_reference(self.record)
        points = PointMaker(self.plan, self.rig)
        if self._going_on is not None:
            points.points = list(self._going_on.points)
        self.bench = Bench(
            sweep=Sweep(
                self.plan,
                done=[point.step for point in points.points],
                checks=self._speed_checks() if attended else (),
            ),
            guard=Guard(
                guard_plan(
                    self.rig,
                    self.plan,
                    rated_max_rpm=self._unit_max_rpm(),
                    rig_file=self.order.rig.path,
                    rated_file=self.order.rated.path if self.order.rated else None,
                )
            ),
            stop=stop_path,
            wires=Wires(
                wiring.readings,
                drive=wiring.drive,
                load=wiring.load,
                field=wiring.field,
                events=wiring.take_events,
                burst=wiring.burst,
            ),
            record=self.record,
            points=points,
            clock=self.clock,
            hand=self._simulated_hand(),
            burst_lines=self._burst_lines(),
            drive_look=self._drive_look(wiring),
        )
        self.bench.view.notes = [reference] if reference else []
        self.bench.start()
        return self.bench

    def _watch_reference(self, record: RunFolder) -> str:
        """The run keeps how the chart of the bench's reference unit stood when it began.

        A sentence where the operator should know of it; else empty.
        """
        if self.rig.reference is None or self._going_on is not None:
            return ""
        from acquire.study.reference_watch import REFERENCE_WATCHED, kept_by_a_run, warned_of

        kept = kept_by_a_run(self.rig, self._shelf, bench_day(self.clock))
        if kept is not None:
            record.append(REFERENCE_WATCHED, kept)
        return warned_of(kept or {})

    def _drive_look(self, wiring: BenchWiring) -> DriveLook | None:
        """For a drive whose output is no channel of the rig."""
        drive = self.rig.drive
        if drive is None or wiring.drive is None or drive_is_read(self.rig):
            return None
        timeout = drive.comm_timeout
        path = self.order.rig.path
        return DriveLook(
            wiring.drive,
            every_s=look_every_s(timeout.set_s if timeout is not None else None),
            silent_s=self.rig.limits.silent_s,
            where=drive.address,
            set_by=f"limits.silent_s, {path.name if path else self.rig.title}",
        )

    def _burst_lines(self) -> BurstLines:
        """What is made of bursts of ripple, with the pole pairs of this unit."""
        rated = self.order.rated_curve
        return BurstLines(rated.pole_pairs if rated else None, fresh_s=self.plan.horizon_s)

    def _speed_checks(self) -> list[SpeedCheck]:
        """Those of the method that have no answer yet and that this rig may turn at."""
        method = self.order.method.profile
        answered = answers_in(journal_of(self.record)) if self.record is not None else {}
        checks = speed_checks(method, self.rig, unit_max_rpm=self._unit_max_rpm())
        return [check for check in checks if check.name not in answered]

    def answer(self, name: str, answer: Answer) -> CheckResult:
        """Keep the answer to a check in the record, after `begin` and before `end`.

        Raises:
            OrderError: If the method has no such check.
            BadCheckAnswer: If the answer does not fit it.
        """
        if self.record is None:
            raise RuntimeError("answer() comes after begin()")
        return keep_answer(self.record, self.order.method.profile, name, answer)

    def check(self, name: str) -> Check:
        """A check of this run's method.

        Raises:
            OrderError: If there is none of that name.
        """
        return check_of(self.order.method.profile, name)

    def _simulated_hand(self) -> SimulatedHand | None:
        """On a simulated rig the program is the operator's hands too."""
        controls = self._opened_rig.simulated_controls
        if controls is None:
            return None
        return SimulatedHand(controls, volts=self._pile_volts(), belt_ratio=self.rig.ratio)

    def _pile_volts(self) -> float:
        """What a simulated pile is set by [V]: the test voltage, else that of the machine turned.

        Raises:
            OrderError: If neither is known.
        """
        from drivers.simulated.machines import MACHINES

        simulated = self.rig.simulated
        machine = MACHINES.get(simulated.machine) if simulated is not None else None
        if self.plan.test_volts is not None:
            return self.plan.test_volts
        if machine is not None:
            return machine.test_volts
        raise OrderError(
            f"Rig '{self.rig.title}': no test voltage is known to set its simulated pile by.",
            what_to_do="Give --rated NAME, or volts in the method's table [test].",
        )

    def _open_record(self, wiring: BenchWiring) -> RunFolder:
        if self._going_on is not None:
            from acquire.record.reopen import reopen

            return reopen(self._going_on.folder, self.clock, key=self._key)
        header = self.order.header(self.plan)
        header = header.changed(instruments=self._instruments(wiring))
        record = RunFolder.create(self._shelf, header, self.clock, key=self._key)
        tell_server(record.folder)
        return record

    def stop(self, reason: StopReason) -> None:
        """Bring the rig to rest; returns at once, from any thread."""
        if self.stop_path is not None:
            self.stop_path.trip(reason)

    @property
    def complete(self) -> bool:
        """True once the run has ended by itself, all steps over, and the rig is at rest."""
        report = self.stop_path.report if self.stop_path else None
        return report is not None and report.reason.kind == "complete"

    @property
    def under_way(self) -> bool:
        """True once the drive was told to run; without a drive once the first step has begun."""
        return self.bench is not None and self.bench.under_way

    def end(self) -> RunEnd:
        """When the bench is over: judge, seal, and say how it ended, and whether it is sealed."""
        _wiring, stop_path = self._opened()
        if self.bench is None or self.record is None or stop_path.report is None:
            raise RuntimeError("end() comes after a run")
        return end_record(
            self.record,
            self.bench.points,
            reason=stop_path.report.reason,
            warm_up=self.bench.warm_up,
            under_way=self.bench.under_way,
        )

    def _opened(self) -> tuple[BenchWiring, StopPath]:
        if self.wiring is None or self.stop_path is None:
            raise RuntimeError("open() comes first")
        return self.wiring, self.stop_path

    def _instruments(self, wiring: BenchWiring) -> dict[str, InstrumentFacts]:
        identities = wiring.identities()
        return {
            name: InstrumentFacts(
                identity=identities.get(name),
                calibration=channel.calibration.model_dump(mode="json", exclude_none=True)
                if channel.calibration
                else None,
            )
            for name, channel in self.rig.channels.items()
        }

    def _unit_max_rpm(self) -> float | None:
        curve = self.order.rated_curve
        return curve.max_shaft_rpm if curve else None
