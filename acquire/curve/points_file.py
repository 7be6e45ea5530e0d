"""Points of an output curve from a CSV file: `shaft_rpm,amps` and what else is known of them.

RFC 4180 with a header row, UTF-8, dot decimals. Files come from spreadsheets and other people's
hands, so every fault is named with line and column, all of them at once, with what to do.
"""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from acquire.curve.measured_point import MeasuredPoint
from profiles.errors import Problem, ProfileError
from profiles.plain_text import nearest, shown

COLUMNS = ("shaft_rpm", "amps", "u_amps", "u_shaft_rpm", "volts", "u_volts")
REQUIRED = ("shaft_rpm", "amps")
_ALSO_CALLED = {
    "shaft_rpm": ("rpm", "speed", "shaft", "n", "rev/min", "1/min", "alternator", "alternator_rpm"),
    "amps": ("a", "i", "amp", "ampere", "amperes", "current", "output", "output_current"),
    "volts": ("v", "volt", "voltage", "output_voltage"),
}
"""What other hands call a column."""
_OTHER_SHAFTS = {"engine_rpm": "engine", "drive_rpm": "motor"}
_BRACKETED = re.compile(r"(?P<name>.*?)\s*[(\[](?P<unit>[^)\]]*)[)\]]")
_NEVER_NEGATIVE = ("shaft_rpm", "u_amps", "u_shaft_rpm", "u_volts")
_MOST_BYTES = 5_000_000
_MOST_PROBLEMS = 20
_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+")
_EXAMPLE = "The file must begin with a header such as shaft_rpm,amps and go on with 1500,45.0"


def read_points(path: Path) -> list[MeasuredPoint]:
    """The points of the file, ascending in speed; raises ProfileError naming every fault."""
    return parse_points(_text(path), file=str(path))


def parse_points(text: str, *, file: str) -> list[MeasuredPoint]:
    """The points in `text`; `file` is the name used in messages."""
    _refuse_other_separators(text, file)
    rows = _rows(text, file)
    if not rows:
        raise ProfileError([Problem(file, "", "The file is empty.", _EXAMPLE + ".")])
    names = _header(rows[0], file)
    reader = _RowReader(file, names)
    points = [point for row in rows[1:] if (point := reader.point(row)) is not None]
    if reader.problems:
        raise ProfileError(reader.problems[:_MOST_PROBLEMS])
    if not points:
        raise ProfileError([Problem(file, "", "There is a header and no point.", "Add points.")])
    return sorted(points, key=lambda point: point.shaft_rpm)


def _text(path: Path) -> str:
    file = str(path)
    try:
        if path.stat().st_size > _MOST_BYTES:
            message = f"The file is larger than {_MOST_BYTES // 1_000_000} MB: no output curve is."
            raise ProfileError(
                [Problem(file, "", message, "Give the file that holds one row a speed.")]
            )
        return path.read_bytes().decode("utf-8-sig")
    except OSError as problem:
        words = f"The file cannot be read: {problem.strerror or problem}."
        raise ProfileError([Problem(file, "", words, "Check the name and the folder.")]) from None
    except UnicodeDecodeError:
        words = "The file is not plain text in UTF-8."
        advice = "Save it from the spreadsheet as CSV UTF-8."
        raise ProfileError([Problem(file, "", words, advice)]) from None


def _refuse_other_separators(text: str, file: str) -> None:
    header = text.lstrip("\ufeff\r\n").partition("\n")[0]
    for separator, name in ((";", "semicolons"), ("\t", "tabs")):
        if separator in header and "," not in header:
            advice = (
                "Save it with commas between the columns and dots as decimal marks "
                "(12.5, not 12,5)."
            )
            words = f"The columns are separated by {name}."
            raise ProfileError([Problem(file, "line 1", words, advice)])


@dataclass(frozen=True, slots=True)
class _Row:
    line: int
    cells: tuple[str, ...]


def _rows(text: str, file: str) -> list[_Row]:
    """The rows that are not blank, with the line on which each begins."""
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True)
    rows, begins = [], 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append(_Row(begins, tuple(cell.strip() for cell in cells)))
            begins = reader.line_num + 1
    except csv.Error as problem:
        advice = "Look for a quotation mark that is not closed."
        words = f"The row cannot be read: {problem}."
        raise ProfileError([Problem(file, f"line {begins}", words, advice)]) from None
    return rows


def _header(row: _Row, file: str) -> tuple[str, ...]:
    if any(_number(cell) is not None for cell in row.cells):
        words = "The header row is missing: the first row holds numbers."
        raise ProfileError([Problem(file, f"line {row.line}", words, _EXAMPLE + ".")])
    names = tuple(cell.lower() for cell in row.cells)
    place = f"line {row.line}"
    meant = {name: _meant(name, names) for name in names if name not in COLUMNS}
    problems = [
        Problem(
            file,
            f"{place}, column {shown(name)}",
            "The column is not known.",
            _other_column(name, near),
        )
        for name, near in meant.items()
    ]
    problems += [
        Problem(file, f"{place}, column {name}", "The column is there twice.", "Leave one out.")
        for name in COLUMNS
        if names.count(name) > 1
    ]
    problems += [
        Problem(file, place, f"The column {name} is missing.", f"Add it. {_EXAMPLE}.")
        for name in REQUIRED
        if name not in (*names, *meant.values())
    ]
    if problems:
        raise ProfileError(problems[:_MOST_PROBLEMS])
    return names


def _meant(name: str, names: tuple[str, ...]) -> str | None:
    """The column of ours that somebody may have meant, of those that are not there."""
    left = [one for one in COLUMNS if one not in names]
    if name in _OTHER_SHAFTS:
        return "shaft_rpm" if "shaft_rpm" in left else None
    bracketed = _BRACKETED.fullmatch(name[:80])
    spellings = [name, *(bracketed.group("name", "unit") if bracketed else ())]
    for spelling in spellings:
        plain = "_".join(spelling.split())
        called = [one for one in left if plain in (one, *_ALSO_CALLED.get(one, ()))]
        if found := called[0] if called else nearest(plain, left):
            return found
    return None


def _other_column(name: str, near: str | None) -> str:
    known = f"Known columns: {', '.join(COLUMNS)}."
    if near is None:
        return f"Leave it out. {known}"
    if name in _OTHER_SHAFTS:
        return (
            f"Did you mean {near}? Speeds of the {_OTHER_SHAFTS[name]} must be multiplied by the"
            f" ratio of the pulleys first. {known}"
        )
    return f"Did you mean {near}? {known}"


class _RowReader:
    """Turns rows into points and gathers what is wrong with them."""

    def __init__(self, file: str, names: tuple[str, ...]) -> None:
        self.file = file
        self.names = names
        self.problems: list[Problem] = []

    def point(self, row: _Row) -> MeasuredPoint | None:
        """The point of the row, or None when the row is at fault."""
        if len(row.cells) != len(self.names):
            self._wrong_width(row)
            return None
        before = len(self.problems)
        values = {name: self._value(row, name) for name in self.names}
        shaft_rpm, amps = values.pop("shaft_rpm"), values.pop("amps")
        if shaft_rpm is None or amps is None or len(self.problems) > before:
            return None
        return MeasuredPoint(shaft_rpm, amps, **values)

    def _wrong_width(self, row: _Row) -> None:
        words = f"The row has {len(row.cells)} cells, the header {len(self.names)}."
        comma = any(_COMMA_NUMBER.fullmatch(",".join(pair)) for pair in _pairs(row.cells))
        more = len(row.cells) > len(self.names)
        advice = (
            "Write decimals with a dot (12.5, not 12,5)." if more and comma else "Mend the row."
        )
        self.problems.append(Problem(self.file, f"line {row.line}", words, advice))

    def _value(self, row: _Row, name: str) -> float | None:
        cell = row.cells[self.names.index(name)]
        if not cell and name not in REQUIRED:
            return None
        value = _number(cell)
        if value is None:
            self._fault(row, name, f"{shown(cell)} is not a number.", _advice(cell))
        elif not math.isfinite(value):
            self._fault(row, name, f"{shown(cell)} is not a reading.", "Leave the row out.")
        elif value < 0 and name in _NEVER_NEGATIVE:
            self._fault(row, name, f"{shown(cell)} is below zero.", "Give it without a sign.")
        elif abs(value) > 1e6:
            self._fault(row, name, f"{shown(cell)} is too large to be true.", "Mend the figure.")
        return value

    def _fault(self, row: _Row, name: str, words: str, advice: str) -> None:
        self.problems.append(Problem(self.file, f"line {row.line}, column {name}", words, advice))


def _pairs(cells: tuple[str, ...]) -> list[tuple[str, str]]:
    return list(pairwise(cells))


def _number(cell: str) -> float | None:
    # float() also takes 1_000 and digits of other scripts: neither is a figure on a test sheet.
    if not cell.isascii() or "_" in cell:
        return None
    try:
        return float(cell)
    except ValueError:
        return None


def _advice(cell: str) -> str:
    if not cell:
        return "Fill it in, or leave the row out."
    if _COMMA_NUMBER.fullmatch(cell):
        return "Write decimals with a dot (12.5, not 12,5)."
    return "Write the figure alone, without its unit of measure."
