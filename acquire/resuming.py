"""Going on with an interrupted run: by what its own record says, never by the files of today."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TypeVar, cast

from acquire.errors import RunFileError
from acquire.judge.recall import point_from_row
from acquire.judge.steady_point import SteadyPoint
from acquire.record.curve_table import CurveRow
from acquire.record.read_run import Run, read_run
from acquire.record.run_header import RunHeader, Snapshot
from acquire.replay import replay_points
from acquire.run_order import RunOrder
from acquire.snapshots import snapshots_of
from profiles.catalogue import Loaded, Origin
from profiles.table import Table

T = TypeVar("T", bound=Table)


@dataclass(frozen=True, slots=True)
class Interrupted:
    """A run that can go on."""

    folder: Path
    order: RunOrder
    points: tuple[SteadyPoint, ...]
    """The steady points it has, in the order they were taken."""


def interrupted(folder: Path) -> Interrupted:
    """Read a run that is to go on.

    Raises:
        RunFileError: If it is no run, complete, or damaged.
    """
    run = read_run(folder)
    if run.header.state == "complete":
        raise RunFileError(
            folder,
            "is complete; there is nothing to resume.",
            what_to_do="Begin a new run; `steadyamps note` adds to this one.",
        )
    return Interrupted(folder, order_of(run.header), tuple(_points(run)))


def order_of(header: RunHeader) -> RunOrder:
    """What was ordered when the run began."""
    profiles = snapshots_of(header)
    return RunOrder(
        rig=_loaded(profiles.rig, cast("Snapshot", header.rig)),
        method=_loaded(profiles.method, cast("Snapshot", header.method)),
        rated=_loaded(profiles.rated, header.rated) if profiles.rated and header.rated else None,
        rule=_loaded(profiles.rule, header.rule) if profiles.rule and header.rule else None,
        steps=header.steps,
        job=header.job,
        unit=header.unit,
        serial=header.serial,
        stage=header.stage,
        operator=header.operator,
    )


def _loaded(profile: T, snapshot: Snapshot) -> Loaded[T]:
    path = Path(snapshot.path) if snapshot.path else None
    return Loaded(profile, path, snapshot.text, cast("Origin", snapshot.origin))


def _points(run: Run) -> list[SteadyPoint]:
    """Each point with its whole budget where the samples still give it, else as its row has it."""
    again = {point.step: (point, text) for point, text in replay_points(run)}
    return [_point(row, again.get(row.step)) for row in run.curve]


def _point(row: CurveRow, replayed: tuple[SteadyPoint, str] | None) -> SteadyPoint:
    if replayed is not None and replayed[1] == row.measured_text:
        return replayed[0]
    return point_from_row({**asdict(row.measured), **asdict(row.judged)})
