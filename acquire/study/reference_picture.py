"""The chart of a reference unit as a picture of text.

The axis names the limits, the centre, and what each run that stands outside the limits gave. Such
a run never stands on the row of a limit, so no figure of the axis speaks of another run.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from acquire.study.reference_chart import Chart

ROWS = 13
LEFT = 9
MOST_SHOWN = 3.0
"""The picture reaches so many times as far as the limits; what lies beyond stands at its edge."""
LEAST_BEYOND = 0.5
"""And so much of that farther than a limit that was passed: room for a row beyond it."""
LIMIT, CENTRE, POINT, WARNED = "=", "-", "o", "X"
EDGE, HIGHER, LOWER = "|", "^", "v"

Numbered = tuple[int, float]


@dataclass(frozen=True, slots=True)
class _Scale:
    """Which value stands on which row; row 0 is the highest."""

    chart: Chart
    low: float
    high: float
    rows: int

    def row(self, value: float) -> int:
        """The row of a value; one outside the limits stands beyond the row of the limit."""
        row = self._plain(min(max(value, self.low), self.high))
        if value > self.chart.high:
            return min(row, self._plain(self.chart.high) - 1)
        return max(row, self._plain(self.chart.low) + 1) if value < self.chart.low else row

    def _plain(self, value: float) -> int:
        if self.high <= self.low:
            return self.rows - 1
        return self.rows - 1 - round((value - self.low) / (self.high - self.low) * (self.rows - 1))

    def edge(self, value: float) -> str:
        """The sign of the axis beside a value: an arrow where the picture ends before it."""
        return HIGHER if value > self.high else LOWER if value < self.low else EDGE


def picture(chart: Chart, *, columns: int = 72, rows: int = ROWS) -> list[str]:
    """The latest values against centre and limits; a signalled one is an X."""
    room = max(columns, 10)
    step = max(min(room // len(chart.values), 4), 1)
    shown = list(enumerate(chart.values, 1))[-(room // step) :]
    scale = _scale(chart, [value for _, value in shown], rows)
    width = step * len(shown)
    grid = [[" "] * width for _ in range(rows)]
    for value, sign in ((chart.low, LIMIT), (chart.high, LIMIT), (chart.centre, CENTRE)):
        grid[scale.row(value)] = [sign] * width
    for place, (number, value) in enumerate(shown):
        sign = WARNED if chart.signalled(number) else POINT
        grid[scale.row(value)][place * step + step // 2] = sign
    axis = _axis(chart, shown, scale)
    return [
        *(f"{axis[row]}{''.join(line)}".rstrip() for row, line in enumerate(grid)),
        f"{'run':>{LEFT}}  {_ruler(shown[0][0], shown[-1][0], width)}",
        f"{'':>{LEFT}}  {_legend(axis)}",
    ]


def _scale(chart: Chart, values: Sequence[float], rows: int) -> _Scale:
    reach = chart.high - chart.centre
    beyond = MOST_SHOWN * reach or math.inf
    low, high = chart.low, chart.high
    if (lowest := min(values)) < low:
        low = max(min(lowest, low - LEAST_BEYOND * reach), chart.centre - beyond)
    if (highest := max(values)) > high:
        high = min(max(highest, high + LEAST_BEYOND * reach), chart.centre + beyond)
    return _Scale(chart, low, high, rows)


def _axis(chart: Chart, shown: Sequence[Numbered], scale: _Scale) -> list[str]:
    """The left of each row; where several runs share a row outside, the newest is named."""
    names = [f"{'':>{LEFT}} {EDGE}"] * scale.rows
    outside = [value for _, value in shown if not chart.low <= value <= chart.high]
    for value in (*outside, chart.low, chart.high, chart.centre):
        names[scale.row(value)] = f"{value:>{LEFT}.5g} {scale.edge(value)}"
    return names


def _ruler(first: int, last: int, width: int) -> str:
    return f"{first}".ljust(max(width - len(str(last)), 1)) + str(last)


def _legend(axis: Sequence[str]) -> str:
    words = f"{POINT} run   {WARNED} stands out   {CENTRE} centre   {LIMIT} limits"
    arrows = {line[-1] for line in axis} - {EDGE}
    return "   ".join([words, *(f"{arrow} beyond the picture" for arrow in sorted(arrows))])
