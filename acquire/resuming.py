"""Going on with an interrupted run, by what its own record says.

Of the files of today only the rig's is looked at, and only to refuse where it says something else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TypeVar, cast

from acquire.asked_checks import answers_in, speed_checks
from acquire.errors import RunFileError
from acquire.findings.seen import CANNOT_SEE, seen_in
from acquire.judge.checks import Answer
from acquire.judge.recall import point_from_row
from acquire.judge.steady_point import SteadyPoint
from acquire.record.curve_table import CurveRow
from acquire.record.read_run import Run, read_run
from acquire.record.run_header import RunHeader, Snapshot
from acquire.replay import replay_points
from acquire.run_order import RunOrder
from acquire.snapshots import snapshots_of
from acquire.sweep.checking import SpeedCheck
from profiles.catalogue import Loaded, Origin, load_rig, snapshot
from profiles.errors import ProfileError
from profiles.rig import Rig
from profiles.table import Table
from profiles.toml_file import read_text

T = TypeVar("T", bound=Table)


@dataclass(frozen=True, slots=True)
class Interrupted:
    """A run that can go on."""

    folder: Path
    order: RunOrder
    points: tuple[SteadyPoint, ...]
    """The steady points it has, in the order they were taken."""
    answers: Mapping[str, Answer] = field(default_factory=dict)
    """To checks, by name."""

    def nothing_left(self, *, attended: bool) -> bool:
        """True when it only has to be judged and sealed: every step has its point.

        `attended`: somebody is there to answer checks at a speed, so none of them may be left.
        """
        plan, done = self.order.plan(), {point.step for point in self.points}
        if any(step.number not in done for step in plan.steps):
            return False
        return not (attended and self._speed_checks_left())

    def _speed_checks_left(self) -> list[SpeedCheck]:
        curve = self.order.rated_curve
        checks = speed_checks(
            self.order.method.profile,
            self.order.rig.profile,
            unit_max_rpm=curve.max_shaft_rpm if curve else None,
        )
        return [check for check in checks if check.name not in self.answers]


NOTHING_LEFT_WORDS = (
    "Every speed has been measured. It is judged and sealed; no port is opened, nothing turns."
)


def interrupted(folder: Path) -> Interrupted:
    """Read a run that is to go on.

    Raises:
        RunFileError: If it is no run, complete, damaged, or its rig file was changed since.
    """
    run = read_run(folder)
    refuse_where_over(run)
    found = Interrupted(
        folder, order_of(run.header), tuple(_points(run)), answers=answers_in(run.journal)
    )
    if not found.nothing_left(attended=True):
        _refuse_another_rig(found)
    return found


def can_go_on(run: Run) -> bool:
    """True of a run that did not come to its end and may be gone on with."""
    try:
        refuse_where_over(run)
    except RunFileError:
        return False
    return True


def refuse_where_over(run: Run) -> None:
    """Nothing is gone on with that is complete, or whose points say nothing of the unit.

    Raises:
        RunFileError: If it cannot be gone on with.
    """
    folder = run.folder
    if run.header.state == "complete":
        raise RunFileError(
            folder,
            "is complete; there is nothing to resume.",
            what_to_do="Begin a new run; `steadyamps note` adds to this one.",
        )
    blind = next((entry for entry in run.journal if entry.kind == CANNOT_SEE), None)
    if blind is not None:
        raise RunFileError(
            folder,
            "was stopped because a meter did not measure; its points say nothing of the unit.",
            what_to_do="Mend the meter and begin a new test.",
        )
    if seen_in(run.journal).refused_for_good:
        raise RunFileError(
            folder,
            "was refused: this unit and this rig do not go together, so it can never go on.",
            what_to_do="Begin a new test on the rig of the unit's own voltage, or with the right"
            " rated curve.",
        )


def _refuse_another_rig(found: Interrupted) -> None:
    """A run keeps the rig file it began with; where that was changed since, nothing turns by it.

    A file that is gone, or that says the same in other words, is no change.
    """
    rig = found.order.rig
    if rig.path is None or rig.origin not in ("user", "file"):
        return
    try:
        text = read_text(rig.path)
    except ProfileError:  # gone, or nobody may read it
        return
    if text == rig.text or _says_the_same(rig.path, rig.profile):
        return
    raise RunFileError(
        found.folder,
        f"cannot go on: its rig file {rig.path} was changed since it began, and a run keeps the"
        " rig it began with. Nothing was turned.",
        what_to_do="Begin a new test with the rig file of today.",
    )


def _says_the_same(path: Path, rig: Rig) -> bool:
    try:
        return snapshot(load_rig(path).profile) == snapshot(rig)
    except ProfileError:
        return False


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
