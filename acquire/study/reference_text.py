"""The chart of a reference unit as text: a row a speed, a picture, and what stands out."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from acquire.readiness import Item, State
from acquire.study.reference_chart import WHAT_TO_DO, Chart, ReferenceStudy, Signal
from acquire.study.reference_picture import picture
from acquire.study.reference_watch import ReferenceWatch
from acquire.study.repeated_runs import NOT_SAID

WIDTH = 78
"""Of a line of words, in columns."""


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


def watch_lines(watch: ReferenceWatch, *, columns: int = 72) -> list[str]:
    """The chart as `rig check` shows it: whole where it warns, else its figures in a few lines.

    Empty where there is no chart yet.
    """
    found = watch.study
    if found is None:
        return []
    if not watch.warns:
        return list(_in_short(found))
    drawn = found.together if watch.at_rpm is None else found.speeds[watch.at_rpm]
    return lines(replace(found, drawn=drawn), columns=columns)


def _in_short(found: ReferenceStudy) -> Iterator[str]:
    chart = found.together
    yield (
        f"Reference unit, {len(found.runs)} runs, limits from the first {chart.base}. All speeds,"
        " amps / centre:"
    )
    yield f"  newest {chart.values[-1]:.4f}, limits {chart.low:.4f} to {chart.high:.4f}"
    parts = [
        f"{rpm:.0f} rpm {one.values[-1]:.2f} A ({one.low:.2f} to {one.high:.2f})"
        for rpm, one in found.speeds.items()
    ]
    yield from textwrap.wrap(
        f"By speed: {'; '.join(parts)}", WIDTH, initial_indent="  ", subsequent_indent="  "
    )


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
    said = [
        f"  {chart.title}: {signal.words}{_value(chart, signal)}"
        for chart in charts
        for signal in chart.signals
    ]
    if not said:
        return ["Nothing stands out: the bench gives what it gave."]
    return ["Standing out (bench or unit has changed, or a run was not like the rest):", *said,
            WHAT_TO_DO]  # fmt: skip


def _value(chart: Chart, signal: Signal) -> str:
    """What the run of the signal gave, where it is one run."""
    return f", at {chart.values[signal.last - 1]:.5g}" if signal.first == signal.last else ""
