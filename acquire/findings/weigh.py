"""The causes that change the whole curve, weighed against each other (Bayes).

Each cause says what the unit would give at each speed, what ripple there would be and what the
field would draw. What is not known of a sound unit (its level, its cut-in speed, the battery's
resistance) is spread as units of one make are, and shared by all speeds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from acquire.curve.model import FloatArray
from acquire.findings.case import Case
from acquire.findings.causes import PRIOR, Cause, Hypothesis, hypotheses
from acquire.findings.expected import Expected
from acquire.findings.side_evidence import (
    Lines,
    checked_ripple_volts,
    field_score,
    lines_score,
    log_density,
    mean_lines,
    ripple_score,
    rotor_ohm_20,
)
from acquire.judge.steady_point import SteadyPoint
from acquire.plain_sum import plain_sum

# Our choices, set on simulated units of two makes; no published source.
LEVEL_MEAN = 0.02
"""Sound units give a little more than their rating."""
COLD_SD = 0.02
"""Further doubt of the cut-in speed, as a share, where a cold run meets a warm rating."""
FLOOR_SHARE = 0.01
"""Currents below this share of the top current all count as this much."""
FROM_TOP = 0.05
"""Speeds where a sound unit gives less than this share of its top current tell nothing."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """How likely each cause is after all evidence."""

    chance: dict[Cause, float]
    points: tuple[SteadyPoint, ...]
    """The points that counted."""
    shares: tuple[float, ...]
    """Measured over expected current at each of them."""
    predicted: dict[Cause, tuple[float, ...]]
    """Share each cause would give there (its most likely degree)."""
    speed_ratios: tuple[float, ...]
    with_ripple: bool
    with_field: bool
    open_diode_odds: float
    """How well an open diode explains the readings, over how well the best cause does."""
    field_ohm: float | None = None
    """Rotor winding at 20 °C, from field current and voltage [ohm]."""
    lines: Lines | None = None


def weigh(case: Case) -> Weighed | None:
    """Weigh the causes; None where no point tells anything."""
    expected = case.expected
    if expected is None or case.gives_nothing:
        return None
    points = _telling(case, expected)
    if not points:
        return None
    rpm = np.array([p.shaft_rpm for p in points], float)
    sound = np.maximum(expected.amps(rpm), 1e-6)
    floor = FLOOR_SHARE * expected.i_max_amps
    measured = np.maximum([p.amps or 0.0 for p in points], floor)
    y = np.log(measured / sound)
    reading_sd = np.array([_reading_sd(p, floor) for p in points])
    field_ohm, lines = rotor_ohm_20(case), mean_lines(case)
    scores: list[tuple[Hypothesis, float, FloatArray]] = []
    for one in hypotheses(case):
        predicted = np.maximum(one.amps(expected, rpm), floor)
        score = math.log(one.prior) + log_density(
            y - np.log(predicted / sound) - LEVEL_MEAN,
            _covariance(one, expected, rpm, reading_sd, case),
        )
        score += ripple_score(case, points, one.bridge, rpm / expected.cut_in_rpm)
        score += lines_score(lines, one.bridge) + field_score(case, field_ohm, one)
        scores.append((one, score, predicted / sound))
    return _weighed(
        scores,
        points=tuple(points),
        shares=tuple(float(v) for v in np.exp(y)),
        speed_ratios=tuple(float(v) for v in rpm / expected.cut_in_rpm),
        with_ripple=case.reads("ripple_volts") or checked_ripple_volts(case) is not None,
        field_ohm=field_ohm,
        lines=lines,
    )


def _weighed(
    scores: list[tuple[Hypothesis, float, FloatArray]],
    *,
    points: tuple[SteadyPoint, ...],
    shares: tuple[float, ...],
    speed_ratios: tuple[float, ...],
    with_ripple: bool,
    field_ohm: float | None,
    lines: Lines | None,
) -> Weighed:
    top = max(score for _, score, _ in scores)
    chance: dict[Cause, float] = {}
    best: dict[Cause, float] = {}
    predicted: dict[Cause, tuple[float, ...]] = {}
    for one, score, share in scores:
        chance[one.cause] = chance.get(one.cause, 0.0) + math.exp(score - top)
        if score > best.get(one.cause, -math.inf):
            best[one.cause] = score
            predicted[one.cause] = tuple(float(v) for v in share)
    whole = plain_sum(chance.values())
    likely = {cause: part / PRIOR[cause] for cause, part in chance.items()}
    odds = likely["open diode"] / max(likely.values())
    return Weighed(
        chance={cause: part / whole for cause, part in chance.items()},
        points=points,
        shares=shares,
        predicted=predicted,
        speed_ratios=speed_ratios,
        with_ripple=with_ripple,
        with_field=field_ohm is not None,
        open_diode_odds=odds,
        field_ohm=field_ohm,
        lines=lines,
    )


LIGHT_VOLTS = 0.2
"""Beyond its band the voltage may be so much too high for the noise of a reading; what is higher
was loaded too lightly, and its regulator may hold it back."""


def _telling(case: Case, expected: Expected) -> list[SteadyPoint]:
    """Points at the test voltage where a sound unit would give something."""
    points = []
    for p in case.usable:
        if case.test_volts is not None and p.volts is not None:
            too_low = p.volts < case.test_volts - 3.0 * case.volts_within
            if too_low or p.volts > case.test_volts + case.volts_within + LIGHT_VOLTS:
                continue
        sound = float(expected.amps(np.array([p.shaft_rpm], float))[0])
        if sound >= FROM_TOP * expected.i_max_amps:
            points.append(p)
    return points


def _reading_sd(point: SteadyPoint, floor: float) -> float:
    amps = max(point.amps or 0.0, floor)
    return math.hypot((point.u_amps or 0.0) / amps, 0.5 * floor / amps)


def _covariance(
    one: Hypothesis,
    expected: Expected,
    rpm: FloatArray,
    reading_sd: FloatArray,
    case: Case,
) -> FloatArray:
    moved = np.maximum(one.amps(expected, rpm * 1.01), 1e-6)
    back = np.maximum(one.amps(expected, rpm * 0.99), 1e-6)
    steep = np.clip(np.log(moved / back) / 0.02, 0.0, 8.0)
    cold = COLD_SD if expected.from_state != expected.to_state else 0.0
    n0_sd = math.hypot(max(expected.n0_sd, one.n0_sd), cold)
    own = one.point_sd**2 + reading_sd**2
    return np.diag(own) + one.level_sd**2 + n0_sd**2 * np.outer(steep, steep)
