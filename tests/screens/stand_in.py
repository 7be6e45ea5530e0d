"""A keeper without a rig, and canned runs, so that pages are tried without wires and waiting."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import cast

from acquire.judge.budget import Budget, Part
from acquire.judge.steady_point import SteadyPoint
from acquire.judging import judge_run
from acquire.points import measured_of
from acquire.readiness import Item
from acquire.record.run_folder import RunFolder
from acquire.record.run_header import Job
from acquire.run_order import RunOrder
from acquire.screens.app import BenchApp
from acquire.screens.choices import Choices
from acquire.screens.desk import Desk
from acquire.screens.keeper import Keeper, Wanted
from acquire.screens.look import Look
from acquire.snapshots import snapshots_of
from acquire.stop_path import StopReason, StopReport
from drivers.clock import HandClock
from drivers.readings import Reading
from profiles.catalogue import load_method, load_rated, load_rig

PLATE = "45/90A 13.5V @1500/6000"
GOOD = Item("stopping", "good", "no drive: the operator's hand stops it")


class KeeperStandIn:
    """Says what a test wants it to say, and remembers what it was asked."""

    def __init__(self, shelf: Path) -> None:
        self.shelf = shelf
        self.state = "open"
        self.trouble: BaseException | None = None
        self.items: tuple[Item, ...] = (GOOD,)
        self.run = None
        self.bench = None
        self.end = None
        self.opened = None
        self.stop_trouble: tuple[str, ...] = ()
        self.stopped_early = ""
        self.stopping = False
        self.report: StopReport | None = None
        self.rest_words = ""
        self.left: tuple[str, str] = ("", "")
        self.busy = False
        self.stops: list[StopReason] = []
        self.begun: list[Wanted] = []
        self.rigs: list[object] = []
        self.readings: dict[str, Reading] = {}
        self.halts = 0

    def stop(self, reason: StopReason) -> bool:
        if self.busy:
            self.stops.append(reason)
        return self.busy

    def begin(self, wanted: Wanted) -> None:
        self.begun.append(wanted)
        self.busy, self.state = True, "beginning"

    def open_rig(self, loaded: object, *, look: bool = True) -> None:
        self.rigs.append(loaded)

    def halt_idle_drive(self) -> bool:
        self.halts += 1
        return True

    def left_to_do(self, *, stopped: bool) -> tuple[str, str]:
        return self.left

    def latest(self) -> Mapping[str, Reading]:
        return self.readings

    def now_s(self) -> float:
        return 100.0


def app_with(
    keeper: KeeperStandIn, choices: Choices | None = None, *, look: Look | None = None
) -> BenchApp:
    """The app on a stand-in."""
    desk = Desk(cast("Keeper", keeper), choices or by_hand())
    return BenchApp(lambda: desk, look=look, at_once=True)


def by_hand(**changes: object) -> Choices:
    """Everything chosen that a run by hand needs, nothing ticked."""
    choices = Choices(rig=load_rig("by-hand"), method=load_method("quick"))
    for name, value in changes.items():
        setattr(choices, name, value)
    return choices


def make_run(
    shelf: Path,
    *,
    serial: str | None = "A-17",
    unit: str | None = "grey case",
    job: str | None = "J-1044",
    stage: str = "before",
    amps: tuple[float, ...] = (47.0, 92.0),
    day: int = 2,
    complete: bool = True,
    journal: Mapping[str, Mapping[str, object]] | None = None,
) -> Path:
    """A run by hand on the shelf, made without waiting; `journal`: more of what it keeps."""
    from datetime import UTC, datetime

    order = RunOrder(
        rig=load_rig("by-hand"), method=load_method("quick"), rated=load_rated(PLATE),
        serial=serial, stage=stage, operator="Nell", job=Job(number=job), unit=unit,
    )  # fmt: skip
    plan = order.plan()
    clock = HandClock(start_utc=datetime(2026, 3, day, 9, 30, tzinfo=UTC))
    record = RunFolder.create(shelf, order.header(plan), clock, sync_every_s=None)
    for kind, data in (journal or {}).items():
        record.append(kind, data)
    points = []
    for step, value in zip(plan.steps, amps, strict=False):
        clock.advance(20.0)
        point = _point(step.number, step.set_rpm, value)
        points.append(point)
        record.take_point(measured_of(point))
    stopped = None if complete else "the space bar was pressed."
    judgement = judge_run(snapshots_of(record.header), points=points, why_stopped=stopped)
    record.finish(
        "complete" if complete else "stopped", judged=judgement.judged, verdict=judgement.document
    )
    return record.folder


def _point(step: int, set_rpm: float, amps: float) -> SteadyPoint:
    budget = Budget((Part("accuracy", "the ammeter's accuracy", 0.6),
                     Part("scatter", "the scatter of the reading", 0.2)))  # fmt: skip
    return SteadyPoint(
        step=step, set_rpm=set_rpm, shaft_rpm=set_rpm, u_shaft_rpm=1.0, amps=amps,
        u_amps=budget.u, volts=13.5, u_volts=0.02, settled="yes", settle_s=6.0, readings=2,
        amps_at_set_rpm=amps, u_amps_at_set_rpm=budget.u, budget=budget,
    )  # fmt: skip
