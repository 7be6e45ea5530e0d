"""Individuals (Shewhart) chart of a reference unit: is the bench where it was?

The limits come from the first runs by their moving range (NIST/SEMATECH e-Handbook of Statistical
Methods, 6.3.2.2): mean ± 3 · (mean moving range) / 1.128, which is mean ± 2.66 · mean moving range.
Two rules warn: a point outside the limits, and eight in a row on one side of the centre (Western
Electric rules, as in the same handbook, 6.3.2). The second finds a slow drift long before the
first.

The chart that decides is that of all speeds together. A speed by itself warns only far outside, so
that many speeds do not make many false warnings: on a bench that has not moved, 6 in 100 latest
runs of four speeds are warned of (simulated, limits from ten runs), 18 where every speed had the
limits and rules of the chart of all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from typing import Any

from acquire.errors import OrderError
from acquire.study.repeated_runs import RepeatedRun, cautions

BASE_RUNS = 10
"""The limits rest on so many first runs."""
LEAST_RUNS = 3
"""With fewer there is no moving range to speak of."""
IN_A_ROW = 8
SIGMAS = 3.0
SIGMAS_OF_SEVERAL = 4.0
"""How far out a run at one of several speeds must lie."""
RANGE_PER_SIGMA = 1.128
"""d2: mean range of two normal values in standard deviations."""
WHAT_TO_DO = (
    "Before the next customer's unit: zero the clamp, look at its leads, at belt and temperature,"
    " and at the calibration dates; then run the reference unit again."
)


@dataclass(frozen=True, slots=True)
class Signal:
    """Something the chart warns of; runs count from 1."""

    kind: str
    """`outside` or `one side`."""
    first: int
    last: int
    words: str

    def as_json(self) -> dict[str, Any]:
        """The signal as plain data."""
        return {"kind": self.kind, "first": self.first, "last": self.last, "words": self.words}


@dataclass(frozen=True, slots=True)
class Chart:
    """One quantity over the runs; values, centre and limits in the unit its title names."""

    title: str
    values: tuple[float, ...]
    base: int
    """How many first values the limits rest on."""
    centre: float
    sigma: float
    sigmas: float
    """The limits lie so many standard deviations from the centre."""
    signals: tuple[Signal, ...]

    @property
    def low(self) -> float:
        """Lower limit."""
        return self.centre - self.sigmas * self.sigma

    @property
    def high(self) -> float:
        """Upper limit."""
        return self.centre + self.sigmas * self.sigma

    def signalled(self, number: int) -> bool:
        """True when run `number` (from 1) stands in a signal."""
        return any(signal.first <= number <= signal.last for signal in self.signals)

    @property
    def in_control(self) -> bool:
        """True when the latest run stands in no signal."""
        return not self.signalled(len(self.values))

    def as_json(self) -> dict[str, Any]:
        """The chart as plain data."""
        return {
            "title": self.title,
            "centre": self.centre,
            "low": self.low,
            "high": self.high,
            "sigma": self.sigma,
            "base": self.base,
            "values": list(self.values),
            "in_control": self.in_control,
            "signals": [signal.as_json() for signal in self.signals],
        }


def individuals_chart(
    values: Sequence[float], *, title: str = "", base: int = BASE_RUNS, alone: bool = True
) -> Chart:
    """Chart values in the order of time; the limits rest on the first `base` of them.

    `alone`: False for one of several speeds, see the head of this module.

    Raises:
        ValueError: With fewer than two values.
    """
    first = list(values[:base])
    if len(first) < 2:
        raise ValueError("a moving range needs two values")
    ranges = [abs(after - before) for before, after in pairwise(first)]
    sigma = math.fsum(ranges) / len(ranges) / RANGE_PER_SIGMA
    centre = math.fsum(first) / len(first)
    sigmas = SIGMAS if alone else SIGMAS_OF_SEVERAL
    chart = Chart(title, tuple(values), len(first), centre, sigma, sigmas, ())
    rows = _one_side(chart) if alone else []
    return replace(chart, signals=(*_outside(chart), *rows))


def _outside(chart: Chart) -> list[Signal]:
    return [
        Signal(
            "outside",
            number,
            number,
            f"run {number} is {'above' if value > chart.high else 'below'} the limits",
        )
        for number, value in enumerate(chart.values, 1)
        if not chart.low <= value <= chart.high
    ]


def _one_side(chart: Chart) -> list[Signal]:
    found = []
    number = 1
    for side, group in groupby(chart.values, key=lambda value: _side(value, chart.centre)):
        count = len(list(group))
        if side and count >= IN_A_ROW:
            where = "above" if side > 0 else "below"
            last = number + count - 1
            words = f"{count} runs in a row {where} the centre (runs {number} to {last})"
            found.append(Signal("one side", number, last, words))
        number += count
    return found


def _side(value: float, centre: float) -> int:
    return (value > centre) - (value < centre)


@dataclass(frozen=True, slots=True)
class ReferenceStudy:
    """A reference unit over its runs: one chart a speed, and one of all speeds together."""

    runs: tuple[RepeatedRun, ...]
    speeds: dict[float, Chart]
    """By set speed [rpm]; currents in A."""
    together: Chart
    """Mean over the speeds of amps / centre of that speed."""
    drawn: Chart
    cautions: tuple[str, ...]

    @property
    def in_control(self) -> bool:
        """True when the latest run stands in no signal of any chart."""
        return all(chart.in_control for chart in (*self.speeds.values(), self.together))

    def as_json(self) -> dict[str, Any]:
        """The document of `rig study --reference`."""
        return {
            "unit": next((run.unit for run in self.runs if run.unit), None),
            "runs": [run.run_id for run in self.runs],
            "speeds": [{"set_rpm": rpm, **chart.as_json()} for rpm, chart in self.speeds.items()],
            "together": self.together.as_json(),
            "in_control": self.in_control,
            "cautions": list(self.cautions),
        }


def reference_study(runs: Sequence[RepeatedRun], at: float | None = None) -> ReferenceStudy:
    """Chart the speeds that every run has; `at` says which one is drawn, else all together.

    Raises:
        OrderError: If the runs share no speed, or not that one.
    """
    common = sorted(set.intersection(*(set(run.readings) for run in runs)))
    if not common:
        raise OrderError(
            "The runs share no set speed.",
            what_to_do="Test the reference unit at the same speeds every time (--steps).",
        )
    if at is not None and at not in common:
        had = ", ".join(f"{rpm:.0f}" for rpm in common)
        raise OrderError(
            f"Not every run has {at:g} rpm.", what_to_do=f"Speeds they all have: {had}."
        )
    speeds = {
        rpm: individuals_chart(
            [run.readings[rpm].amps for run in runs],
            title=f"{rpm:.0f} rpm, A",
            alone=len(common) == 1,
        )
        for rpm in common
    }
    together = individuals_chart(_ratios(speeds), title="all speeds, amps / centre")
    drawn = together if at is None else speeds[at]
    return ReferenceStudy(tuple(runs), speeds, together, drawn, tuple(_said(runs, common)))


def _ratios(speeds: dict[float, Chart]) -> list[float]:
    charts = [chart for chart in speeds.values() if chart.centre > 0]
    if not charts:
        raise OrderError("The unit gives no current at any speed.", what_to_do="Take another unit.")
    shares = ([value / chart.centre for value in chart.values] for chart in charts)
    return [math.fsum(parts) / len(charts) for parts in zip(*shares, strict=True)]


def _said(runs: Sequence[RepeatedRun], common: Sequence[float]) -> list[str]:
    said = cautions(runs)
    if len(runs) < BASE_RUNS:
        said.append(
            f"Only {len(runs)} runs: the limits are provisional, and move until there are"
            f" {BASE_RUNS}."
        )
    others = sorted({rpm for run in runs for rpm in run.readings} - set(common))
    if others:
        said.append(f"Not in every run: {', '.join(f'{rpm:.0f}' for rpm in others)} rpm, left out.")
    if len({run.rig for run in runs}) > 1:
        said.append("Run on several rigs: a step in the chart may be the change of rig.")
    return said
