"""The output curve as a picture of text cells: rated, allowed, measured with doubt, band, now."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from acquire.screens.raster import (
    Glyphs,
    Grid,
    Limits,
    Line,
    Raster,
    Wash,
    draw_line,
    draw_wash,
    ticks_of,
)
from acquire.screens.rows import EMPTY, Bit, Ink, Row, cut, row, strips_of

LABELS = 6
"""Columns left of the axis."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A point, with its doubt as a bar where it is known."""

    shaft_rpm: float
    amps: float
    half: float = 0.0
    """Half the 95 % interval [A]."""
    ink: Ink = "measured"
    sign: str = "o"


@dataclass(frozen=True, eq=False)
class CurvePicture:
    """What a chart shows. The limits come from the plan, so that the axes never jump.

    Each is its own: the same picture in the same room is drawn once.
    """

    x_limits: Limits
    y_limits: Limits
    lines: tuple[Line, ...] = ()
    washes: tuple[Wash, ...] = ()
    marks: tuple[Mark, ...] = ()
    now: tuple[float, float] | None = None
    """Where the unit is now (shaft rpm, amps)."""
    legend: tuple[tuple[str, Ink], ...] = field(default_factory=tuple)


SIGNS: dict[Glyphs, dict[str, str]] = {
    "dots": {
        "axis": "│", "tick": "┤", "corner": "└", "floor": "─", "floor tick": "┴",
        "o": "●", "+": "○", "x": "✕", "now": "◆", "?": "◌",
        "rated": "──", "allowed": "╌╌", "fitted": "─·", "band": "⠢⠢", "before": "○··",
    },
    "ascii": {
        "axis": "|", "tick": "+", "corner": "+", "floor": "-", "floor tick": "+",
        "o": "O", "+": "o", "x": "x", "now": "X", "?": "?",
        "rated": "--", "allowed": "..", "fitted": "**", "band": "::", "before": "o++",
    },
}  # fmt: skip


def chart_rows(
    picture: CurvePicture, *, width: int, height: int, glyphs: Glyphs = "dots"
) -> list[Row]:
    """The picture in `height` rows of `width` columns; a sentence where there is no room."""
    return list(_drawn(picture, width, height, glyphs))


@lru_cache(maxsize=8)
def _drawn(picture: CurvePicture, width: int, height: int, glyphs: Glyphs) -> list[Row]:
    columns, rows = width - LABELS - 1, height - 2
    if columns < 12 or rows < 4:
        return [row(("no room for the curve", "dim"))] + [EMPTY] * (height - 1)
    grid = Grid(columns, rows, picture.x_limits, picture.y_limits)
    raster = Raster(grid)
    for wash in picture.washes:
        draw_wash(raster, wash)
    for line in picture.lines:
        draw_line(raster, line)
    for mark in picture.marks:
        _draw_doubt(raster, mark)
    cells = [
        list(zip(sign_row, ink_row, strict=True))
        for sign_row, ink_row in zip(raster.signs(glyphs), raster.inks, strict=True)
    ]
    _stamp(cells, picture, grid, glyphs)
    return _with_axes(cells, picture, grid, glyphs)


def chart_with_legend(
    picture: CurvePicture, *, width: int, height: int, glyphs: Glyphs, legend_width: int
) -> list[Row]:
    """The picture with its legend under it, which may be wider than the picture itself."""
    legend = legend_rows(picture, glyphs, max(legend_width, width) - LABELS)
    drawn = chart_rows(picture, width=width, height=height - len(legend), glyphs=glyphs)
    return [*drawn, *(row(" " * LABELS, one) for one in legend)]


def legend_rows(picture: CurvePicture, glyphs: Glyphs, width: int) -> list[Row]:
    """The signs and what they mean, in as few rows as they need."""
    signs = SIGNS[glyphs]
    pieces: list[Row] = []
    for name, ink in picture.legend:
        key, _, words = name.partition(" ")
        pieces.append(row((signs.get(key, key), ink), (f" {words}", "dim")))
    return strips_of(pieces, width, gap=2)


def _draw_doubt(raster: Raster, mark: Mark) -> None:
    """The bar of doubt, to the dot: one smaller than the sign of its point hides under it."""
    column, top = raster.grid.dot(mark.shaft_rpm, mark.amps + mark.half)
    _, bottom = raster.grid.dot(mark.shaft_rpm, mark.amps - mark.half)
    last = 4 * raster.grid.rows - 1
    raster.put([(column, at) for at in range(max(top, 0), min(bottom, last) + 1)], mark.ink, "|")


def _stamp(
    cells: list[list[tuple[str, Ink]]], picture: CurvePicture, grid: Grid, glyphs: Glyphs
) -> None:
    """Points and the place where the unit is now, over the dots."""
    signs = SIGNS[glyphs]
    for mark in picture.marks:
        here = grid.cell(mark.shaft_rpm, mark.amps)
        if here is not None:
            cells[here[1]][here[0]] = (signs.get(mark.sign, mark.sign), mark.ink)
    now = grid.cell(*picture.now) if picture.now else None
    if now is not None:
        cells[now[1]][now[0]] = (signs["now"], "hands")


def _with_axes(
    cells: list[list[tuple[str, Ink]]], picture: CurvePicture, grid: Grid, glyphs: Glyphs
) -> list[Row]:
    signs = SIGNS[glyphs]
    labels = _y_labels(picture.y_limits, grid)
    out = []
    for number, line in enumerate(cells):
        label = labels.get(number, "")
        axis = signs["tick"] if label else signs["axis"]
        out.append((Bit(f"{label:>{LABELS - 1}} ", "dim"), Bit(axis, "line"), *_grouped(line)))
    floor, numbers = _x_axis(picture.x_limits, grid, signs)
    unit = row(("   A  ", "dim"))
    out.append((*unit, Bit(signs["corner"] + floor, "line")))
    out.append(cut(row((f"{'rpm':>{LABELS - 1}}  {numbers}", "dim")), LABELS + 1 + grid.columns))
    return out


def _grouped(line: list[tuple[str, Ink]]) -> list[Bit]:
    """Neighbouring cells of one ink as one piece."""
    out: list[Bit] = []
    for sign, ink in line:
        ink = "plain" if sign == " " else ink
        if out and out[-1].ink == ink:
            out[-1] = Bit(out[-1].text + sign, ink)
        else:
            out.append(Bit(sign, ink))
    return out


def _y_labels(limits: Limits, grid: Grid) -> dict[int, str]:
    labels = {}
    for value in ticks_of(limits, max(grid.rows // 3, 2)):
        cell = grid.cell(limits_middle(grid), value)
        if cell is not None:
            labels[cell[1]] = f"{value:g}"
    return labels


def limits_middle(grid: Grid) -> float:
    """An x that lies inside the grid."""
    return (grid.x_limits[0] + grid.x_limits[1]) / 2


def _x_axis(limits: Limits, grid: Grid, signs: dict[str, str]) -> tuple[str, str]:
    """The floor with its ticks, and the numbers under them."""
    floor = [signs["floor"]] * grid.columns
    numbers = [" "] * (grid.columns + 1)
    free_from = 0
    for value in ticks_of(limits, max(grid.columns // 7, 2)):
        cell = grid.cell(value, grid.y_limits[0])
        if cell is None:
            continue
        text = f"{value:g}"
        start = min(max(cell[0] - len(text) // 2, 0), grid.columns - len(text))
        floor[cell[0]] = signs["floor tick"]
        if start >= free_from:
            numbers[start : start + len(text)] = text
            free_from = start + len(text) + 1
    return "".join(floor), "".join(numbers).rstrip()
