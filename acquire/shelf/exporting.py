"""Runs as files for other programs: CSV for programs, XLSX for spreadsheets of any language.

A spreadsheet that writes decimals with a comma misreads the point of a CSV; in XLSX numbers and
dates are numbers and dates, and every language shows them its own way.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from acquire.record.csv_text import LINE_END, number_cell, text_cell
from acquire.record.files import PART, translated
from acquire.record.run_name import utc_of
from acquire.shelf.entry import RunEntry
from acquire.shelf.export_columns import (
    POINT_COLUMNS,
    RUN_COLUMNS,
    UTC_COLUMNS,
    Cell,
    readable_points,
    run_cells,
)
from acquire.shelf.shelf import Shelf
from acquire.shelf.wanted import Wanted

STANDARD_OUTPUT = "-"
MOST_SHEET_ROWS = 1_048_576
"""ECMA-376 leaves it open; spreadsheets stop here."""
AT_ONCE = 500
COLUMN_WIDTH = 16
UTC_FORMAT = "yyyy-mm-dd hh:mm:ss"
Tell = Callable[[int], None]


@dataclass(slots=True)
class Exported:
    """What was written."""

    runs: int = 0
    points: int = 0
    not_here: int = 0
    """Runs whose folder cannot be read from here, so that their points are missing."""
    left_out: int = 0
    """Points that did not fit on the sheet."""


def runs_to_csv(shelf: Shelf, wanted: Wanted, to: str, tell: Tell | None = None) -> Exported:
    """One line a run (RFC 4180, UTF-8); `to` is a path, or `-` for standard output.

    Raises:
        RunFileError: If the file cannot be written.
        ShelfError: If the runs cannot be had.
    """
    done = Exported()
    with _file(to) as file:
        file.write(_csv_line(RUN_COLUMNS))
        for cells in _run_rows(shelf, wanted, done, tell):
            file.write(_csv_line(cells))
    return done


def points_to_csv(shelf: Shelf, wanted: Wanted, to: str, tell: Tell | None = None) -> Exported:
    """One line a steady point, read from the run folders; otherwise as `runs_to_csv`."""
    done = Exported()
    with _file(to) as file:
        file.write(_csv_line(POINT_COLUMNS))
        for entry in shelf.every(wanted):
            for cells in _points(entry, done):
                file.write(_csv_line(cells))
            _count(done, tell)
    return done


def to_xlsx(shelf: Shelf, wanted: Wanted, to: Path, tell: Tell | None = None) -> Exported:
    """A workbook of two sheets, runs and their steady points.

    Raises:
        RunFileError: If the file cannot be written.
        ShelfError: If the runs cannot be had.
    """
    done = Exported()
    with _workbook(to) as book:
        runs, points = _Sheet(book, "runs", RUN_COLUMNS), _Sheet(book, "points", POINT_COLUMNS)
        for some in _pieces(shelf, wanted):
            partners = shelf.partners(some)
            for entry in some:
                runs.add(run_cells(entry, partners))
                done.left_out += sum(not points.add(cells) for cells in _points(entry, done))
                _count(done, tell)
    return done


def _run_rows(
    shelf: Shelf, wanted: Wanted, done: Exported, tell: Tell | None
) -> Iterator[list[Cell]]:
    for some in _pieces(shelf, wanted):
        partners = shelf.partners(some)
        for entry in some:
            yield run_cells(entry, partners)
            _count(done, tell)


def _pieces(shelf: Shelf, wanted: Wanted) -> Iterator[list[RunEntry]]:
    some: list[RunEntry] = []
    for entry in shelf.every(wanted):
        some.append(entry)
        if len(some) == AT_ONCE:
            yield some
            some = []
    if some:
        yield some


def _points(entry: RunEntry, done: Exported) -> list[list[Cell]]:
    found = readable_points(entry)
    if found is None:
        done.not_here += 1
        return []
    done.points += len(found)
    return found


def _count(done: Exported, tell: Tell | None) -> None:
    done.runs += 1
    if tell is not None:
        tell(done.runs)


# ---- CSV -----------------------------------------------------------------------------------


@contextmanager
def _file(to: str) -> Iterator[IO[bytes]]:
    """The file, whole or not at all; the one that was there stays until the new one is whole."""
    if to == STANDARD_OUTPUT:
        yield sys.stdout.buffer
        sys.stdout.buffer.flush()
        return
    path = Path(to)
    with _replacing(path) as part, translated(path), part.open("wb") as file:
        yield file


@contextmanager
def _replacing(path: Path) -> Iterator[Path]:
    part = path.with_name(path.name + PART)
    try:
        yield part
        with translated(path):
            os.replace(part, path)  # noqa: PTH105 - the same as Path.replace, on every system
    finally:
        part.unlink(missing_ok=True)


def _csv_line(cells: Sequence[Cell]) -> bytes:
    return ",".join(_csv_cell(cell) for cell in cells).encode() + LINE_END


def _csv_cell(cell: Cell) -> str:
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if cell is None or isinstance(cell, int | float):
        return number_cell(cell)
    return text_cell(str(cell))


# ---- XLSX ----------------------------------------------------------------------------------


@contextmanager
def _workbook(path: Path) -> Iterator[Any]:
    import xlsxwriter  # type: ignore[import-untyped]

    with _replacing(path) as part, translated(path):
        part.open("wb").close()  # says now, in the system's words, where nothing can be written
        book = xlsxwriter.Workbook(
            str(part),
            {"constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False},
        )
        try:
            yield book
        finally:
            book.close()  # lets go of its temporary files, too


class _Sheet:
    """A sheet that is filled line by line."""

    def __init__(self, book: Any, name: str, columns: Sequence[str]) -> None:  # noqa: ANN401
        self._sheet = book.add_worksheet(name)
        self._utc = book.add_format({"num_format": UTC_FORMAT})
        self._columns = columns
        self._row = 1
        bold = book.add_format({"bold": True})
        self._sheet.set_column(0, len(columns) - 1, COLUMN_WIDTH)
        self._sheet.freeze_panes(1, 1)
        for column, words in enumerate(columns):
            self._sheet.write_string(0, column, words, bold)

    def add(self, cells: Sequence[Cell]) -> bool:
        """Add a line; False where the sheet is full."""
        if self._row >= MOST_SHEET_ROWS:
            return False
        for column, (name, cell) in enumerate(zip(self._columns, cells, strict=True)):
            self._write(column, _utc_cell(cell) if name in UTC_COLUMNS else cell)
        self._row += 1
        return True

    def _write(self, column: int, cell: Cell) -> None:
        """Each kind by its own name: nothing is guessed, and text never becomes a formula."""
        sheet, row = self._sheet, self._row
        if cell is None:
            return
        if isinstance(cell, bool):
            sheet.write_boolean(row, column, cell)
        elif isinstance(cell, int | float):
            sheet.write_number(row, column, cell)
        elif isinstance(cell, datetime):
            sheet.write_datetime(row, column, cell, self._utc)
        else:
            sheet.write_string(row, column, cell)


def _utc_cell(cell: Cell) -> Cell:
    """A date and time as spreadsheets have it: without a time zone, in UTC."""
    return utc_of(cell).replace(tzinfo=None) if isinstance(cell, str) else cell
