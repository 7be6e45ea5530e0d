"""curve.csv: one row a step; measured columns keep their text, judged ones come at the end."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from acquire.errors import RunFileError
from acquire.record.csv_text import LINE_END, number_cell, number_of, text_cell
from acquire.record.cut_tail import CutTail
from acquire.record.json_text import read_bounded

CURVE_FILE = "curve.csv"
LARGEST_CURVE = 4_000_000


@dataclass(frozen=True, slots=True)
class Measured:
    """What a step gave; figures are None in a step without a usable reading."""

    step: int
    """1 for the first step."""
    set_rpm: float | None
    shaft_rpm: float | None = None
    u_shaft_rpm: float | None = None
    amps: float | None = None
    u_amps: float | None = None
    """All parts but the speed part."""
    volts: float | None = None
    u_volts: float | None = None
    case_c: float | None = None
    settled: str = "no"
    """yes, predicted or no."""
    settle_s: float | None = None
    readings: int | None = None


@dataclass(frozen=True, slots=True)
class Judged:
    """What the judgement adds to a step."""

    amps_at_set_rpm: float | None = None
    u_amps_at_set_rpm: float | None = None
    rated_amps: float | None = None
    limit_amps: float | None = None
    margin_amps: float | None = None
    p_conform: float | None = None
    outcome: str = ""
    """pass, fail, undecided, not judged, not measured; empty while the run goes on."""


MEASURED_COLUMNS = tuple(field.name for field in fields(Measured))
JUDGED_COLUMNS = tuple(field.name for field in fields(Judged))
COLUMNS = MEASURED_COLUMNS + JUDGED_COLUMNS
TEXT_COLUMNS = ("settled", "outcome")
WHOLE_COLUMNS = ("step", "readings")
HEADING = ",".join(COLUMNS).encode() + LINE_END


@dataclass(frozen=True, slots=True)
class CurveRow:
    """One row, with the very text of its measured columns."""

    measured: Measured
    judged: Judged
    measured_text: str

    @classmethod
    def of(cls, measured: Measured, judged: Judged | None = None) -> CurveRow:
        """Make the row of a step just taken."""
        judged = judged or Judged(outcome="" if measured.amps is not None else "not measured")
        return cls(measured, judged, ",".join(_cells(measured)))

    @property
    def step(self) -> int:
        """The step's number."""
        return self.measured.step

    def with_judged(self, judged: Judged) -> CurveRow:
        """The same step judged; the measured text stays byte for byte."""
        return replace(self, judged=judged)

    def line(self) -> bytes:
        """The row with its end."""
        return ",".join([self.measured_text, *_cells(self.judged)]).encode() + LINE_END


def _cells(part: Measured | Judged) -> list[str]:
    cells = []
    for field in fields(part):
        value = getattr(part, field.name)
        cells.append(text_cell(value) if field.name in TEXT_COLUMNS else number_cell(value))
    return cells


def row_from(line: str) -> CurveRow:
    """Read one line without its end.

    Raises:
        ValueError: With a sentence that says which column is wrong.
    """
    cells = next(csv.reader([line], strict=True), [])
    if len(cells) != len(COLUMNS):
        raise ValueError(f"{len(cells)} cells instead of {len(COLUMNS)}")
    values: dict[str, Any] = {
        name: _value(name, cell) for name, cell in zip(COLUMNS, cells, strict=True)
    }
    if not isinstance(values["step"], int) or values["step"] < 1:
        raise ValueError("step: must be 1 or more")
    measured = Measured(**{name: values[name] for name in MEASURED_COLUMNS})
    judged = Judged(**{name: values[name] for name in JUDGED_COLUMNS})
    return CurveRow(measured, judged, ",".join(line.split(",")[: len(MEASURED_COLUMNS)]))


def _value(name: str, cell: str) -> str | float | int | None:
    if name in TEXT_COLUMNS:
        if not cell.isprintable():
            raise ValueError(f"{name}: holds a control character")
        return cell
    try:
        value = number_of(cell)
        return int(cell) if value is not None and name in WHOLE_COLUMNS else value
    except ValueError as error:
        raise ValueError(f"{name}: {error}") from error


@dataclass(frozen=True, slots=True)
class CurveRead:
    """The whole rows of a curve.csv, and what stood after them."""

    rows: tuple[CurveRow, ...]
    good_bytes: int
    tail: CutTail | None


def read_curve(path: Path) -> CurveRead:
    """Read curve.csv as far as its rows are whole.

    Raises:
        RunFileError: If the file cannot be read or its heading is wrong.
    """
    return curve_from(path, read_bounded(path, largest=LARGEST_CURVE))


def curve_from(path: Path, data: bytes) -> CurveRead:
    """Read the bytes of a curve.csv."""
    if not data.startswith(HEADING):
        raise RunFileError(
            path,
            "does not begin with the columns of a curve.",
            what_to_do="The file is damaged: fetch the run again from a copy.",
        )
    rows: list[CurveRow] = []
    good = len(HEADING)
    while (end := data.find(LINE_END, good)) >= 0:
        row = _row_or_none(data[good:end], {row.step for row in rows})
        if row is None:
            break
        rows.append(row)
        good = end + len(LINE_END)
    tail = data[good:]
    cut = CutTail(CURVE_FILE, good, len(tail), tail) if tail else None
    return CurveRead(tuple(rows), good, cut)


def _row_or_none(line: bytes, there: set[int]) -> CurveRow | None:
    try:
        row = row_from(line.decode("utf-8"))
    except (ValueError, csv.Error):  # bytes that are no text are a ValueError too
        return None
    return None if row.step in there else row


def curve_bytes(rows: Iterable[CurveRow]) -> bytes:
    """The whole file."""
    return HEADING + b"".join(row.line() for row in rows)


def judged_rows(rows: Iterable[CurveRow], judged: Mapping[int, Judged]) -> tuple[CurveRow, ...]:
    """The rows with the judgement of each step filled in, where there is one."""
    return tuple(row.with_judged(judged[row.step]) if row.step in judged else row for row in rows)
