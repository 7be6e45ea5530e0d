"""The chart of a reference unit as text: a row a speed, a picture, and what stands out."""

from __future__ import annotations

import math
from typing import Any

from acquire.readiness import Item, State
from acquire.study.reference_chart import WHAT_TO_DO, Chart, ReferenceStudy
from acquire.study.reference_watch import ReferenceWatch
from acquire.study.repeated_runs import NOT_SAID

ROWS = 13
LEFT = 9
MOST_SHOWN = 3.0
"""The picture reaches so many times as far as the limits; what lies beyond stands at its edge."""
LIMIT, CENTRE, POINT, WARNED = "=", "-", "o", "X"


def reference_item(watch: ReferenceWatch) -> Item:
    """The state of the chart as a line of the readiness list."""
    state: State = "look"
    if watch.warns:
        state = "bad"
    elif watch.state == "in control":
        state = "good"
    name, _, words = watch.words.partition(": ")
    return Item(name[:1].lower() + name[1:], state, words, watch.what_to_do)


def reference_document(watch: ReferenceWatch) -> dict[str, Any]:
    """The same with its chart, as plain data."""
    return {**watch.to_data(), "chart": watch.study.as_json() if watch.study else None}


def lines(found: ReferenceStudy, *, columns: int = 72) -> list[str]:
    """Table, picture, signals, cautions."""
    unit = next((run.unit for run in found.runs if run.unit), NOT_SAID)
    first, last = found.runs[0].day, found.runs[-1].day
    base = found.together.base
    return [
        f"Reference unit {unit}: {len(found.runs)} runs, {first} to {last}; limits from the first"
        f" {base}",
        "",
        "   speed   centre      low     high   latest",
        *(_row(f"{rpm:8.0f}", chart, 2) for rpm, chart in found.speeds.items()),
        _row("     all", found.together, 4),
        "",
        found.drawn.title,
        *picture(found.drawn, columns=columns),
        "",
        *_signals(found),
        *(f"  ! {caution}" for caution in found.cautions),
    ]


def _row(name: str, chart: Chart, decimals: int) -> str:
    figures = (chart.centre, chart.low, chart.high, chart.values[-1])
    word = "in" if chart.in_control else "LOOK !"
    return " ".join([name, *(f"{figure:8.{decimals}f}" for figure in figures), word])


def _signals(found: ReferenceStudy) -> list[str]:
    charts = (*found.speeds.values(), found.together)
    said = [f"  {chart.title}: {signal.words}" for chart in charts for signal in chart.signals]
    if not said:
        return ["Nothing stands out: the bench gives what it gave."]
    return ["Standing out (bench or unit has changed, or a run was not like the rest):", *said,
            WHAT_TO_DO]  # fmt: skip


def picture(chart: Chart, *, columns: int = 72, rows: int = ROWS) -> list[str]:
    """The latest values against centre and limits; a signalled one is an X."""
    room = max(columns, 10)
    step = max(min(room // len(chart.values), 4), 1)
    shown = list(enumerate(chart.values, 1))[-(room // step) :]
    beyond = MOST_SHOWN * (chart.high - chart.centre) or math.inf
    low = max(min(chart.low, *(value for _, value in shown)), chart.centre - beyond)
    high = min(max(chart.high, *(value for _, value in shown)), chart.centre + beyond)
    scale = (rows - 1) / (high - low) if high > low else 0.0

    def row_of(value: float) -> int:
        return rows - 1 - round((value - low) * scale)

    width = step * len(shown)
    grid = [[" "] * width for _ in range(rows)]
    names = {row_of(v): v for v in (chart.low, chart.high, chart.centre)}
    for value, sign in ((chart.low, LIMIT), (chart.high, LIMIT), (chart.centre, CENTRE)):
        grid[row_of(value)] = [sign] * width
    for place, (number, value) in enumerate(shown):
        sign = WARNED if chart.signalled(number) else POINT
        grid[row_of(min(max(value, low), high))][place * step + step // 2] = sign
    drawn = [
        f"{_label(names.get(k)):>{LEFT}} |{''.join(line)}".rstrip() for k, line in enumerate(grid)
    ]
    last = str(shown[-1][0])
    ruler = f"{shown[0][0]}".ljust(max(width - len(last), 1)) + last
    legend = f"{POINT} run   {WARNED} stands out   {CENTRE} centre   {LIMIT} limits"
    return [*drawn, f"{'run':>{LEFT}}  {ruler}", f"{'':>{LEFT}}  {legend}"]


def _label(value: float | None) -> str:
    return "" if value is None else f"{value:.5g}"
