"""What an export holds: one line a run, one line a steady point."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from datetime import datetime

from acquire.record.curve_table import COLUMNS as CURVE_COLUMNS
from acquire.record.curve_table import CURVE_FILE, read_curve
from acquire.shelf.entry import RunEntry
from acquire.shelf.pairs import Partners
from profiles.errors import BenchError

Cell = str | float | int | bool | datetime | None

RUN_COLUMNS = (
    "run_id", "began_utc", "ended_utc", "state", "outcome", "simulated", "serial", "unit",
    "job_number", "customer", "fitted_to", "complaint", "parts_fitted", "claim", "stage",
    "operator", "rig", "rated", "method", "rule", "points", "top_amps", "top_rpm",
    "least_margin_amps", "p_all", "cut_in_rpm", "reason", "findings", "before", "after", "bench",
    "path",
)  # fmt: skip
POINT_COLUMNS = ("run_id", "serial", "unit", "stage", *CURVE_COLUMNS)
UTC_COLUMNS = ("began_utc", "ended_utc")


def run_cells(entry: RunEntry, partners: Mapping[str, Partners]) -> list[Cell]:
    """One run, in the order of `RUN_COLUMNS`."""
    mine = partners.get(entry.run_id, Partners())
    told: dict[str, Cell] = {
        "outcome": entry.outcome_word,
        "path": str(entry.path),
        "before": mine.before.run_id if mine.before else None,
        "after": mine.after.run_id if mine.after else None,
    }
    return [told[name] if name in told else getattr(entry, name) for name in RUN_COLUMNS]


def point_rows(entry: RunEntry) -> Iterator[list[Cell]]:
    """The steady points of one run, in the order of `POINT_COLUMNS`.

    Raises:
        RunFileError: If its curve cannot be read, here.
    """
    about: list[Cell] = [entry.run_id, entry.serial, entry.unit, entry.stage]
    for row in read_curve(entry.path / CURVE_FILE).rows:
        cells = {**asdict(row.measured), **asdict(row.judged)}
        yield [*about, *(cells[name] for name in CURVE_COLUMNS)]


def readable_points(entry: RunEntry) -> list[list[Cell]] | None:
    """The steady points of one run; None where its folder cannot be read from here."""
    try:
        return list(point_rows(entry))
    except BenchError:
        return None
