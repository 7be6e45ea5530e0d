"""Reading a run back, whole or interrupted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path
from typing import Any

from acquire.errors import RunFileError
from acquire.record.curve_table import CURVE_FILE, CurveRow, read_curve, row_from
from acquire.record.cut_tail import CutTail
from acquire.record.journal import JOURNAL_FILE, STEADY_POINT, JournalEntry, read_journal
from acquire.record.other_hands import as_we_write
from acquire.record.run_header import RunHeader, read_header
from acquire.record.samples import SAMPLES_FILE, check_samples, iterate_samples
from acquire.record.verdict_file import read_verdict
from drivers.readings import Reading


@dataclass(frozen=True, slots=True)
class Run:
    """A run as its folder has it."""

    folder: Path
    header: RunHeader
    journal: tuple[JournalEntry, ...]
    curve: tuple[CurveRow, ...]
    """In the order the steps were taken; a row the power cut took is had from the journal."""
    verdict: Mapping[str, Any] | None
    """None while the run goes on."""
    tails: tuple[CutTail, ...]
    """What a power cut left at the ends of files; empty in a sealed run."""

    def samples(self) -> Iterator[Reading]:
        """Every reading, in order.

        Raises:
            RunFileError: If samples.csv cannot be read.
        """
        return iterate_samples(self.folder / SAMPLES_FILE)

    def events(self) -> Iterator[Reading | JournalEntry]:
        """Readings and journal entries in the order in which they were written.

        A power cut may have taken rows that an entry already counted; rows written after a resume
        never slip before an entry that stood before the resume.
        """
        before = accumulate((entry.row for entry in reversed(self.journal)), min)
        rows_before = list(before)[::-1]
        samples = self.samples()
        given = 0
        for entry, rows in zip(self.journal, rows_before, strict=True):
            while given < rows and (reading := next(samples, None)) is not None:
                given += 1
                yield reading
            yield entry
        yield from samples


def read_run(folder: Path) -> Run:
    """Read a run folder; a cut end of a file is reported in `tails`, not fatal.

    Raises:
        RunFileError: If it is no run, or one of its files cannot be used.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise RunFileError(
            folder, "is not a run folder.", what_to_do="`steadyamps shelf list` shows the runs."
        )
    header = read_header(folder)
    journal = read_journal(folder / JOURNAL_FILE, header.run_id)
    curve = read_curve(folder / CURVE_FILE)
    samples = check_samples(folder / SAMPLES_FILE)
    tails = tuple(part.tail for part in (samples, journal, curve) if part.tail is not None)
    rows = with_rows_of_the_journal(curve.rows, journal.entries)
    verdict = None if header.state == "running" else read_verdict(folder)
    return Run(folder, header, journal.entries, rows, verdict, tails)


def with_rows_of_the_journal(
    rows: tuple[CurveRow, ...], entries: tuple[JournalEntry, ...]
) -> tuple[CurveRow, ...]:
    """Add the steady points that stand in the journal but not (whole) in the curve."""
    there = {row.step for row in rows}
    added = []
    for entry in entries:
        if entry.kind != STEADY_POINT:
            continue
        with as_we_write(JOURNAL_FILE, "a steady point"):
            if entry.data.get("step") in there:
                continue
            row = _row_of(entry)
        if row.step not in there:
            there.add(row.step)
            added.append(row)
    return (*rows, *added)


def _row_of(entry: JournalEntry) -> CurveRow:
    row = row_from(f"{entry.data['text']},,,,,,,")
    return CurveRow.of(row.measured)
