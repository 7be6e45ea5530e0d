"""Recomputing a run from its raw samples and its journal: the same points, to the last digit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from acquire.errors import RunFileError
from acquire.judge.steady_point import SteadyPoint
from acquire.points import PointMaker, measured_of
from acquire.record.curve_table import MEASURED_COLUMNS, CurveRow
from acquire.record.former_seals import RESUMED
from acquire.record.journal import JOURNAL_FILE, JournalEntry
from acquire.record.other_hands import as_we_write, number
from acquire.record.read_run import Run
from acquire.record.samples import SAMPLES_FILE
from acquire.snapshots import Snapshots, snapshots_of
from acquire.sweep.commands import (
    Act,
    Command,
    HoldLonger,
    SkipStep,
    StepTaken,
    TakeNow,
    ZeroTaken,
)
from acquire.sweep.plan import SweepPlan, plan_sweep
from acquire.sweep.sweep import Sweep
from acquire.version import __version__
from drivers.readings import Reading

PROGRAM = f"steadyamps {__version__}"


LONGEST_GAP_S = 100_000.0
"""A running sweep writes several times a second; it is silent for a day at no time [s]."""


@dataclass(frozen=True, slots=True)
class Difference:
    """A step whose replay is not what the record says."""

    step: int
    recorded: str | None
    """The measured columns as text; None where the record has no such step."""
    replayed: str | None

    @property
    def words(self) -> tuple[str, ...]:
        """Each column that differs, with both values short enough to read."""
        if self.replayed is None:
            return ("in the record, but the replay takes no such step",)
        if self.recorded is None:
            return ("not in the record, but the replay takes it",)
        both = zip(
            MEASURED_COLUMNS, self.recorded.split(","), self.replayed.split(","), strict=True
        )
        return tuple(_told_apart(name, was, now) for name, was, now in both if was != now)


@dataclass(frozen=True, slots=True)
class Replay:
    """What a replay gave."""

    rows: tuple[CurveRow, ...]
    differences: tuple[Difference, ...]
    readings: int
    recorded_by: str = ""
    """The program and version that made the record."""

    @property
    def other_program(self) -> str:
        """A sentence where another version made the record; else empty."""
        if self.recorded_by == PROGRAM:
            return ""
        return (
            f"Recorded by {self.recorded_by}, replayed by {PROGRAM}: a difference may come from "
            "the program; the readings themselves are sealed (see `steadyamps verify`)."
        )

    @property
    def same(self) -> bool:
        """True when every steady point came out to the last digit."""
        return not self.differences


def replay(run: Run) -> Replay:
    """Feed the recorded readings, acts and ticks to a new sweep.

    Raises:
        RunFileError: If the run's files cannot be read.
        ProfileError: If a profile in the record cannot be read.
    """
    again = _run_again(run)
    rows = tuple(CurveRow.of(measured_of(point)) for point in again.points.points)
    return Replay(
        rows, tuple(_differences(run.curve, rows)), again.readings, recorded_by=run.header.program
    )


def replay_points(run: Run) -> list[tuple[SteadyPoint, str]]:
    """The steady points again, each with the text of its measured columns."""
    points = _run_again(run).points.points
    return [(point, CurveRow.of(measured_of(point)).measured_text) for point in points]


def _run_again(run: Run) -> _Again:
    again = _Again(run)
    for event in _deciding(run):
        again.see(event)
    return again


def plan_of(run_steps: tuple[float, ...], profiles: Snapshots) -> SweepPlan:
    """The plan of a run, from the profiles it keeps."""
    return plan_sweep(
        rig=profiles.rig,
        method=profiles.method,
        rated=profiles.rated_curve,
        steps=run_steps,
    )


def _deciding(run: Run) -> Iterator[Reading | JournalEntry]:
    """All events but the readings that were recorded while the rig came to rest."""
    resting = _resting_rows(run.journal)
    row = 0
    for event in run.events():
        if isinstance(event, Reading):
            row += 1
            if any(begin < row <= end for begin, end in resting):
                continue
        yield event


def _resting_rows(journal: tuple[JournalEntry, ...]) -> list[tuple[int, float]]:
    """(last row that decided something, last row before the run went on) for each stop."""
    spans: list[tuple[int, float]] = []
    for entry in journal:
        if entry.kind == "stopping":
            with as_we_write(JOURNAL_FILE, "a stop"):
                spans.append((int(entry.data["stepped_rows"]), float("inf")))
        elif entry.kind == RESUMED and spans:
            spans[-1] = (spans[-1][0], entry.row)
    return spans


class _Again:
    """A sweep fed from a record."""

    def __init__(self, run: Run) -> None:
        profiles = snapshots_of(run.header)
        self.plan = plan_of(run.header.steps, profiles)
        self.points = PointMaker(self.plan, profiles.rig)
        self.sweep = Sweep(self.plan)
        self.readings = 0
        self._last_s: float | None = 0.0

    def see(self, event: Reading | JournalEntry) -> None:
        """Take one reading or journal entry."""
        if isinstance(event, Reading):
            self._goes_on_at(event.t_s)
            self.readings += 1
            self._carry_out(self.sweep.step(event.t_s, [event]))
        elif event.kind in ("tick", "act"):
            with as_we_write(JOURNAL_FILE, f"an entry '{event.kind}'"):
                at_s, act = event.at_s, act_of(event.data)
            self._goes_on_at(at_s)
            if event.kind == "tick":
                self._carry_out(self.sweep.step(at_s, []))
            elif act is not None:
                self._carry_out(self.sweep.act(at_s, act))
        elif event.kind == RESUMED:
            with as_we_write(JOURNAL_FILE, "a resume"):
                done = frozenset(int(step) for step in event.data["steps"])
            self._go_on(done)
            self._last_s = None  # however long it was interrupted

    def _goes_on_at(self, t_s: float) -> None:
        """A sweep does all that is due up to now: time must not leap for ever."""
        if self._last_s is not None and t_s - self._last_s > LONGEST_GAP_S:
            raise RunFileError(
                SAMPLES_FILE,
                f"or {JOURNAL_FILE} goes on at {t_s:g} s after {self._last_s:g} s; no run does.",
                what_to_do="`steadyamps verify` says what was changed. Fetch the run from a copy.",
            )
        self._last_s = t_s

    def _go_on(self, done: frozenset[int]) -> None:
        """The run was resumed: what counted then are the points that stood in its record."""
        self.points.points = [p for p in self.points.points if p.step in done]
        self.points.zero = None
        self.sweep = Sweep(self.plan, done=done)

    def _carry_out(self, commands: list[Command]) -> None:
        for command in commands:
            match command:
                case ZeroTaken():
                    self.points.zero = command
                case StepTaken():
                    self.points.take(command)


def act_of(data: Mapping[str, Any]) -> Act | None:
    """The operator's act as the journal keeps it."""
    match data.get("act"):
        case "HoldLonger":
            return HoldLonger(number(data["for_s"]))
        case "SkipStep":
            return SkipStep()
        case "TakeNow":
            return TakeNow()
        case _:
            return None


def _differences(
    recorded: tuple[CurveRow, ...], replayed: tuple[CurveRow, ...]
) -> Iterator[Difference]:
    before = {row.step: row.measured_text for row in recorded}
    after = {row.step: row.measured_text for row in replayed}
    for step in sorted(before.keys() | after.keys()):
        if before.get(step) != after.get(step):
            yield Difference(step, before.get(step), after.get(step))


def _told_apart(column: str, was: str, now: str) -> str:
    """`amps: recorded 44.12, replayed 44.15`, to as many digits as tell the two apart."""
    for digits in (4, 6, 9):
        short = _short(was, digits), _short(now, digits)
        if short[0] != short[1]:
            return f"{column}: recorded {short[0]}, replayed {short[1]}"
    return f"{column}: recorded {_short(was, 6)}, replayed the same but beyond the ninth digit"


def _short(cell: str, digits: int) -> str:
    if not cell:
        return "nothing"
    try:
        value = float(cell)
    except ValueError:
        return cell
    whole = f"{value:.0f}"
    return whole if len(whole.lstrip("-")) >= digits else f"{value:.{digits}g}"
