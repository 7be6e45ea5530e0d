"""The output curve as text: points with bars, rated and allowed curves, readable without colour."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

Curve = Callable[[float], float | None]

RATED = "."
ALLOWED = "-"
FITTED = ":"
POINT = "O"
BAR = "|"
LEFT = 6


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """A measured point with its 95 % half-width."""

    shaft_rpm: float
    amps: float
    half_width: float


@dataclass(frozen=True, slots=True)
class ChartData:
    """What is drawn; a curve that is None is left out."""

    points: Sequence[ChartPoint]
    rated: Curve | None = None
    allowed: Curve | None = None
    fitted: Curve | None = None


def draw(data: ChartData, *, columns: int = 72, rows: int = 16) -> str:
    """The chart as lines of text, axis and legend included."""
    left, right = _speed_limits(data)
    top = _amps_limit(data)
    grid = [[" "] * columns for _ in range(rows)]
    width, height = columns, rows
    cell = _Cells(left, right, top, width, height)
    for curve, sign, every in (
        (data.fitted, FITTED, 2),
        (data.rated, RATED, 1),
        (data.allowed, ALLOWED, 2),
    ):
        if curve is not None:
            _trace(grid, cell, curve, sign, every)
    for point in data.points:
        _mark(grid, cell, point)
    return "\n".join([*_with_axis(grid, top), *_speed_axis(left, right, columns), _legend(data)])


@dataclass(frozen=True, slots=True)
class _Cells:
    left: float
    right: float
    top: float
    width: int
    height: int

    def column(self, shaft_rpm: float) -> int:
        return round((shaft_rpm - self.left) / (self.right - self.left) * (self.width - 1))

    def speed(self, column: int) -> float:
        return self.left + column / (self.width - 1) * (self.right - self.left)

    def row(self, amps: float) -> int:
        return self.height - 1 - round(amps / self.top * (self.height - 1))


def _speed_limits(data: ChartData) -> tuple[float, float]:
    speeds = [point.shaft_rpm for point in data.points]
    low, high = min(speeds), max(speeds)
    step = nice_step(max(high - low, 500.0), 5)
    return max(math.floor(low * 0.7 / step) * step, 0.0), math.ceil(high * 1.02 / step) * step


def _amps_limit(data: ChartData) -> float:
    tops = [point.amps + point.half_width for point in data.points]
    if data.rated is not None:
        tops += [a for p in data.points if (a := data.rated(p.shaft_rpm)) is not None]
    highest = max([*tops, 1.0])
    step = nice_step(highest, 5)
    return math.ceil(highest * 1.02 / step) * step


def nice_step(span: float, parts: int) -> float:
    """The 1-2-5 step that cuts `span` into at most about `parts`."""
    raw = span / parts
    decade = 10.0 ** math.floor(math.log10(raw))
    return next(m * decade for m in (1, 2, 5, 10) if raw <= m * decade)


def _trace(grid: list[list[str]], cell: _Cells, curve: Curve, sign: str, every: int) -> None:
    for column in range(0, cell.width, every):
        amps = curve(cell.speed(column))
        if amps is not None and 0 <= amps <= cell.top:
            grid[cell.row(amps)][column] = sign


def _mark(grid: list[list[str]], cell: _Cells, point: ChartPoint) -> None:
    column = min(max(cell.column(point.shaft_rpm), 0), cell.width - 1)
    top = cell.row(min(point.amps + point.half_width, cell.top))
    bottom = cell.row(max(point.amps - point.half_width, 0.0))
    for row in range(top, bottom + 1):
        grid[row][column] = BAR
    grid[cell.row(min(max(point.amps, 0.0), cell.top))][column] = POINT


def _with_axis(grid: list[list[str]], top: float) -> list[str]:
    rows = len(grid)
    step = nice_step(top, 5)
    marks = {
        rows - 1 - round(n * step / top * (rows - 1)): f"{n * step:g}"
        for n in range(int(top / step) + 1)
    }
    lines = [f"{'A':>{LEFT}}"]
    for row, cells in enumerate(grid):
        mark = marks.get(row, "")
        lines.append(f"{mark:>{LEFT}} {'+' if mark else '|'}{''.join(cells).rstrip()}")
    return lines


def _speed_axis(left: float, right: float, columns: int) -> list[str]:
    step = nice_step(right - left, 6)
    axis, labels = ["-"] * columns, [" "] * (columns + 8)
    for n in range(math.ceil(left / step), math.floor(right / step) + 1):
        column = round((n * step - left) / (right - left) * (columns - 1))
        axis[column] = "+"
        text = f"{n * step:g}"
        begin = max(min(column - len(text) // 2, len(labels) - len(text)), 0)
        if not "".join(labels[max(begin - 1, 0) : begin + len(text)]).strip():
            labels[begin : begin + len(text)] = text  # one that would touch another is left out
    pad = " " * LEFT
    return [f"{pad} +{''.join(axis)}", f"{pad}  {''.join(labels).rstrip()}  rpm"]


def _legend(data: ChartData) -> str:
    parts = [f"{POINT} measured, {BAR} 95 % doubt"]
    parts += [f"{RATED} rated"] if data.rated else []
    parts += [f"{ALLOWED} allowed"] if data.allowed else []
    parts += [f"{FITTED} fitted"] if data.fitted else []
    return f"{' ' * LEFT}  {'   '.join(parts)}"
