"""All that a paper is made from: one run read once, checked against its seal, and the settings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from acquire.errors import RunFileError
from acquire.judge.budget import HALF_WIDTH_K, Budget
from acquire.judge.to_spare import to_spare
from acquire.judging import WarmUpRan, accept_of, warm_up_in
from acquire.record.curve_table import CurveRow
from acquire.record.json_text import parse, read_bounded
from acquire.record.notes import Note, read_notes
from acquire.record.other_hands import number_if_any
from acquire.record.read_run import Run, read_run
from acquire.record.run_header import RunHeader
from acquire.record.seal import SEAL_FILE, Seal, seal_from
from acquire.record.verify import VerifyReport, verify
from acquire.snapshots import Snapshots, snapshots_of
from profiles.alternator import RatedCurve
from profiles.errors import BenchError
from profiles.rule import Accept
from profiles.settings import Settings

LARGEST_FILE = 512_000_000
"""A file of a record larger than this does not go into a PDF."""


@dataclass(frozen=True, slots=True)
class SpeedRow:
    """What the record says of one speed; None where it says nothing."""

    shaft_rpm: float
    amps: float | None = None
    u_amps: float | None = None
    settled: str | None = None
    rated_amps: float | None = None
    limit_amps: float | None = None
    margin_amps: float | None = None
    p_conform: float | None = None
    outcome: str = ""
    why: str = ""
    """What keeps it open, as the judge has it: doubt, cold, not settled, voltage."""
    hot_amps: float | None = None
    u_hot_amps: float | None = None
    p_conform_hot: float | None = None

    @property
    def half_amps(self) -> float | None:
        """Half-width of the 95 % bar [A]."""
        return None if self.u_amps is None else HALF_WIDTH_K * self.u_amps


@dataclass(frozen=True, slots=True)
class StepRead:
    """How one step was read, and what it is doubtful by."""

    row: CurveRow
    budget: Budget | None


@dataclass(frozen=True, slots=True)
class Material:
    """One run as a paper needs it."""

    run: Run
    notes: tuple[Note, ...]
    checked: VerifyReport
    seal: Seal | None
    profiles: Snapshots | None
    """None where the record keeps no rig and method that this program can read."""
    rows: tuple[SpeedRow, ...]
    readings: tuple[StepRead, ...]
    settings: Settings

    @property
    def header(self) -> RunHeader:
        """run.json."""
        return self.run.header

    @property
    def verdict(self) -> Mapping[str, Any]:
        """verdict.json; empty while there is none."""
        return self.run.verdict or {}

    @property
    def outcome(self) -> str:
        """Outcome of the run, or `none`."""
        return text_of(self.verdict, "outcome") or "none"

    @property
    def rated(self) -> RatedCurve | None:
        """The rated curve of the run."""
        return None if self.profiles is None else self.profiles.rated_curve

    @property
    def typed_names(self) -> frozenset[str]:
        """Names of checks that people gave; those of a shipped method are the program's own."""
        method = self.header.method
        if self.profiles is None or (method is not None and method.origin == "shipped"):
            return frozenset()
        return frozenset(check.name for check in self.profiles.method.check)

    @property
    def accept(self) -> Accept | None:
        """The rule in force, where the unit was judged."""
        if self.profiles is None or self.rated is None:
            return None
        return accept_of(self.profiles)

    @property
    def warm_up(self) -> WarmUpRan | None:
        """How the warm-up went."""
        return warm_up_in(self.run.journal)

    @property
    def test_volts(self) -> float | None:
        """The voltage the method asks for [V]."""
        stated = self.profiles.method.test.volts if self.profiles else None
        return stated or (self.rated.volts if self.rated else None)

    @property
    def decides(self) -> SpeedRow | None:
        """The speed with the least to spare, counted in its doubt where that is known."""
        judged = [row for row in self.rows if row.amps is not None and row.limit_amps is not None]
        return min(judged, key=to_spare, default=None)

    def journal_data(self, kind: str) -> Mapping[str, Any] | None:
        """The last journal entry of this kind."""
        return next((e.data for e in reversed(self.run.journal) if e.kind == kind), None)


def material_of(folder: Path, settings: Settings, trusted: Iterable[str] = ()) -> Material:
    """Read a run for paper.

    Raises:
        RunFileError: It is no run, or one of its files cannot be used.
    """
    run = read_run(folder)
    return Material(
        run=run,
        notes=read_notes(folder),
        checked=verify(folder, tuple(trusted)),
        seal=_seal_of(folder),
        profiles=_profiles_of(run.header),
        rows=_rows_of(run),
        readings=_readings_of(run),
        settings=settings,
    )


def _seal_of(folder: Path) -> Seal | None:
    """The seal, where there is one that can be read; `checked` says whether it holds."""
    path = folder / SEAL_FILE
    if not path.exists():
        return None
    try:
        return seal_from(parse(read_bounded(path)))
    except (RunFileError, ValueError):
        return None


def _profiles_of(header: RunHeader) -> Snapshots | None:
    try:
        return snapshots_of(header)
    except BenchError:
        return None


def _rows_of(run: Run) -> tuple[SpeedRow, ...]:
    """The rows of the verdict; of the curve while there is none."""
    judged = (run.verdict or {}).get("points")
    if isinstance(judged, list) and judged:
        return tuple(_row_of_verdict(one) for one in judged if isinstance(one, Mapping))
    rows = [_row_of_curve(row) for row in run.curve]
    return tuple(sorted((row for row in rows if row is not None), key=lambda row: row.shaft_rpm))


def _row_of_verdict(data: Mapping[str, Any]) -> SpeedRow:
    return SpeedRow(
        shaft_rpm=number_of(data, "shaft_rpm") or 0.0,
        amps=number_of(data, "amps"),
        u_amps=number_of(data, "u_amps"),
        settled=text_of(data, "settled") or None,
        rated_amps=number_of(data, "rated_amps"),
        limit_amps=number_of(data, "limit_amps"),
        margin_amps=number_of(data, "margin_amps"),
        p_conform=number_of(data, "p_conform"),
        outcome=text_of(data, "outcome"),
        why=text_of(data, "why"),
        hot_amps=number_of(data, "hot_amps"),
        u_hot_amps=number_of(data, "u_hot_amps"),
        p_conform_hot=number_of(data, "p_conform_hot"),
    )


def _row_of_curve(row: CurveRow) -> SpeedRow | None:
    measured, judged = row.measured, row.judged
    at_set = judged.amps_at_set_rpm is not None
    rpm = measured.set_rpm if at_set or measured.shaft_rpm is None else measured.shaft_rpm
    if rpm is None:
        return None
    return SpeedRow(
        shaft_rpm=rpm,
        amps=judged.amps_at_set_rpm if at_set else measured.amps,
        u_amps=judged.u_amps_at_set_rpm if at_set else measured.u_amps,
        settled=measured.settled,
        rated_amps=judged.rated_amps,
        limit_amps=judged.limit_amps,
        margin_amps=judged.margin_amps,
        p_conform=judged.p_conform,
        outcome=judged.outcome or ("not judged" if measured.amps is not None else "not measured"),
    )


def _readings_of(run: Run) -> tuple[StepRead, ...]:
    budgets = (run.verdict or {}).get("budget")
    kept = budgets if isinstance(budgets, Mapping) else {}
    return tuple(StepRead(row, _budget_of(kept.get(str(row.step)))) for row in run.curve)


def _budget_of(data: object) -> Budget | None:
    if not isinstance(data, Mapping):
        return None
    try:
        return Budget.from_data(data)
    except (KeyError, TypeError, ValueError, AttributeError, ArithmeticError):
        return None


def number_of(data: Mapping[str, Any], key: str) -> float | None:
    """A finite number of a record, or None."""
    return number_if_any(data.get(key))


def text_of(data: Mapping[str, Any], key: str) -> str:
    """A text of a record, or nothing."""
    value = data.get(key)
    return value if isinstance(value, str) else ""


def texts_of(data: Mapping[str, Any], key: str) -> Sequence[str]:
    """A list of texts of a record."""
    value = data.get(key)
    if isinstance(value, str):
        return (value,) if value else ()
    return tuple(one for one in value if isinstance(one, str)) if isinstance(value, list) else ()
