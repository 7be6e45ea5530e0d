"""What a method did with a family of signals: how often wrong, how long, how far off."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.settling_ours import Declared
from tests.benchmarks.settling_signals import Signal


@dataclass(frozen=True, slots=True)
class Outcome:
    """One signal, one method."""

    t_s: float
    ideal_s: float
    never: bool
    false: bool
    """Settled: the true drift over the horizon is more than the tolerance. Predicted: the value
    is off by more than the tolerance from the current once the lag is over."""
    drifting: bool
    bias_percent: float
    covered: bool
    u95_percent: float
    predicted: bool
    unsteady: bool


def shown_mean(amps: float, sd: float, step: float) -> float:
    """Mean that a display of `step` shows of `amps` with normal noise `sd` (Fourier series)."""
    total = 0.0
    for k in range(1, 30):
        left = math.exp(-2.0 * (math.pi * k * sd / step) ** 2)
        total += (-1) ** k / k * left * math.sin(2.0 * math.pi * k * amps / step)
    return amps + step / math.pi * total


def outcome_of(signal: Signal, declared: Declared | None) -> Outcome:
    """Hold a declaration against the truth.

    A predicted value within tolerance of what the meter would show of the true current counts as
    right: no wait makes a coarse display finer.
    """
    if declared is None:
        return Outcome(
            signal.limit_s,
            signal.ideal_s,
            True,
            False,
            False,
            math.nan,
            False,
            math.nan,
            False,
            False,
        )
    at_s, machine = declared.t_s, signal.machine
    truth = signal.lag_free_at(at_s)
    error = abs(declared.amps - truth)
    drifting = abs(signal.drift_at(at_s)) > signal.tolerance
    predicted = declared.kind == "predicted"
    shown = shown_mean(truth, math.hypot(machine.white, machine.linked), machine.step)
    off = min(error, abs(declared.amps - shown)) > signal.tolerance
    return Outcome(
        t_s=at_s,
        ideal_s=signal.ideal_s,
        never=False,
        false=off if predicted else drifting,
        drifting=drifting,
        bias_percent=100.0 * error / machine.amps,
        covered=error <= declared.u95,
        u95_percent=100.0 * declared.u95 / machine.amps,
        predicted=predicted,
        unsteady=declared.unsteady,
    )


@dataclass(frozen=True, slots=True)
class Score:
    """A row of the table."""

    signals: int
    false_percent: float
    never_percent: float
    median_s: float
    p95_s: float
    times_ideal: float
    bias_p50: float
    bias_p95: float
    covered_percent: float
    u95_percent: float
    predicted_percent: float
    unsteady_percent: float
    drifting_percent: float


def score(outcomes: Sequence[Outcome]) -> Score:
    """Sum up one method on one family."""
    times = np.array([o.t_s for o in outcomes])
    ideal = float(np.median([o.ideal_s for o in outcomes]))
    told = [o for o in outcomes if not o.never and not math.isnan(o.bias_percent)]
    bias = np.array([o.bias_percent for o in told] or [math.nan])

    def percent(flags: Sequence[bool], of: int) -> float:
        return 100.0 * sum(flags) / max(of, 1)

    n = len(outcomes)
    return Score(
        signals=n,
        false_percent=percent([o.false for o in outcomes], n),
        never_percent=percent([o.never for o in outcomes], n),
        median_s=float(np.median(times)),
        p95_s=float(np.percentile(times, 95)),
        times_ideal=float(np.median(times)) / max(ideal, 0.5),
        bias_p50=float(np.percentile(bias, 50)),
        bias_p95=float(np.percentile(bias, 95)),
        covered_percent=percent([o.covered for o in told], len(told)),
        u95_percent=float(np.median([o.u95_percent for o in told] or [math.nan])),
        predicted_percent=percent([o.predicted for o in outcomes], n),
        unsteady_percent=percent([o.unsteady for o in outcomes], n),
        drifting_percent=percent([o.drifting for o in outcomes], n),
    )


def sampling_error(percent: float, n: int) -> float:
    """Standard error of a rate [percentage points]; 1 / n with none seen."""
    p = percent / 100.0
    return 100.0 * (math.sqrt(p * (1 - p) / n) if 0 < p < 1 else 1.0 / n)


HEADER = (
    "| method | false % | never % | t med / p95 s | x ideal | bias p50 / p95 % | covered % |"
    " U95 % | predicted % | still drifting % | unsteady % |\n|" + "---|" * 11
)


def line(name: str, row: Score) -> str:
    """One line of the table, in Markdown."""
    error = sampling_error(row.false_percent, row.signals)
    return (
        f"| {name} | {row.false_percent:.1f} ± {error:.1f} | {row.never_percent:.1f} |"
        f" {row.median_s:.1f} / {row.p95_s:.0f} | {row.times_ideal:.2f} |"
        f" {row.bias_p50:.2f} / {row.bias_p95:.2f} | {row.covered_percent:.1f} |"
        f" {row.u95_percent:.2f} | {row.predicted_percent:.0f} | {row.drifting_percent:.1f} |"
        f" {row.unsteady_percent:.0f} |"
    )
