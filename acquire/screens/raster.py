"""Lines and points as dots: from numbers to the bits of text cells, without a terminal."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from acquire.screens.rows import Ink

Glyphs = Literal["dots", "ascii"]
Limits = tuple[float, float]
_DOT_BITS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))  # [column][row], Unicode braille
Dash = Literal["whole", "dashes", "dash dot", "dots"]
DASHES: dict[Dash, tuple[bool, ...]] = {
    "whole": (True,),
    "dashes": (True,) * 4 + (False,) * 4,
    "dash dot": (True,) * 8 + (False,) * 2 + (True,) * 2 + (False,) * 2,
    "dots": (True,) + (False,) * 3,
}
"""Which columns of dots a line is drawn in, again and again: lines differ without any colour."""


@dataclass(frozen=True, slots=True)
class Line:
    """A joined line; NaN breaks it."""

    xs: Sequence[float]
    ys: Sequence[float]
    ink: Ink
    dash: Dash = "whole"
    plain: str = "-"
    """Its sign where there are no dots."""


@dataclass(frozen=True, slots=True)
class Wash:
    """A band between two lines, as a light wash of every fourth dot."""

    xs: Sequence[float]
    lows: Sequence[float]
    highs: Sequence[float]
    ink: Ink = "band"


@dataclass(frozen=True, slots=True)
class Grid:
    """A field of text cells, each 2 x 4 dots, over a range of x and y."""

    columns: int
    rows: int
    x_limits: Limits
    y_limits: Limits

    def __post_init__(self) -> None:
        (x_low, x_high), (y_low, y_high) = self.x_limits, self.y_limits
        if not (x_low < x_high and y_low < y_high):
            raise ValueError(f"empty axis: x {self.x_limits}, y {self.y_limits}")

    def dot(self, x: float, y: float) -> tuple[int, int]:
        """Column and row of the dot at (x, y), from the top left; may lie outside."""
        (x_low, x_high), (y_low, y_high) = self.x_limits, self.y_limits
        across = (x - x_low) / (x_high - x_low) * (2 * self.columns - 1)
        up = (y - y_low) / (y_high - y_low) * (4 * self.rows - 1)
        return round(across), 4 * self.rows - 1 - round(up)

    def cell(self, x: float, y: float) -> tuple[int, int] | None:
        """Column and row of the text cell at (x, y); None outside."""
        column, row = self.dot(x, y)
        here = column >> 1, row >> 2
        return here if 0 <= here[0] < self.columns and 0 <= here[1] < self.rows else None


@dataclass(slots=True)
class Raster:
    """Dot bits per text cell, and the ink and the plain sign that drew there last."""

    grid: Grid
    bits: list[list[int]] = field(default_factory=list)
    inks: list[list[Ink]] = field(default_factory=list)
    plain: list[list[str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.bits = [[0] * self.grid.columns for _ in range(self.grid.rows)]
        self.inks = [["plain"] * self.grid.columns for _ in range(self.grid.rows)]
        self.plain = [[" "] * self.grid.columns for _ in range(self.grid.rows)]

    def put(self, dots: Iterable[tuple[int, int]], ink: Ink, plain: str = ".") -> None:
        """Set dots; those outside are dropped."""
        width, height = 2 * self.grid.columns, 4 * self.grid.rows
        for column, row in dots:
            if 0 <= column < width and 0 <= row < height:
                self.bits[row >> 2][column >> 1] |= _DOT_BITS[column & 1][row & 3]
                self.inks[row >> 2][column >> 1] = ink
                self.plain[row >> 2][column >> 1] = plain

    def signs(self, glyphs: Glyphs) -> list[list[str]]:
        """The sign of each cell: its dots, or the plain sign of the line that lies on top."""
        if glyphs == "ascii":
            return self.plain
        return [[chr(0x2800 | bits) if bits else " " for bits in one] for one in self.bits]


def draw_line(raster: Raster, line: Line) -> None:
    """Draw a line, whole or broken."""
    grid, last, dash = raster.grid, None, DASHES[line.dash]
    for x, y in zip(line.xs, line.ys, strict=True):
        if math.isnan(x) or math.isnan(y):
            last = None
            continue
        here = grid.dot(x, y)
        dots = between(last, here, 8 * (grid.columns + grid.rows)) if last else [here]
        raster.put([dot for dot in dots if dash[dot[0] % len(dash)]], line.ink, line.plain)
        last = here


def draw_wash(raster: Raster, wash: Wash) -> None:
    """Fill a band lightly: one dot in four."""
    grid = raster.grid
    for x, low, high in zip(wash.xs, wash.lows, wash.highs, strict=True):
        if math.isnan(low) or math.isnan(high):
            continue
        column, top = grid.dot(x, high)
        _, bottom = grid.dot(x, low)
        top, bottom = max(top, 0), min(bottom, 4 * grid.rows - 1)
        if column % 2 == 0:
            first = top + (top + column // 2) % 2
            raster.put([(column, row) for row in range(first, bottom + 1, 2)], wash.ink, ":")


def between(
    start: tuple[int, int], end: tuple[int, int], at_most: int = 100_000
) -> list[tuple[int, int]]:
    """The dots of a straight stretch, without its first; a stretch beyond reason gives its end."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    steps = max(abs(dx), abs(dy), 1)
    if steps > at_most:
        return [end]
    return [
        (start[0] + round(dx * n / steps), start[1] + round(dy * n / steps))
        for n in range(1, steps + 1)
    ]


def tick_step(span: float, ticks: int) -> float:
    """The 1-2-5 step that gives at most about `ticks` ticks over `span`.

    Raises:
        ValueError: If `span` is not above 0.
    """
    if not span > 0:
        raise ValueError(f"no ticks over a span of {span}")
    raw = span / max(ticks, 1)
    decade = 10.0 ** math.floor(math.log10(raw))
    return next(m * decade for m in (1.0, 2.0, 5.0, 10.0) if raw <= m * decade * (1 + 1e-9))


def ticks_of(limits: Limits, at_most: int) -> list[float]:
    """Round values inside `limits`."""
    low, high = limits
    step = tick_step(high - low, at_most)
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [n * step for n in range(first, last + 1)]
