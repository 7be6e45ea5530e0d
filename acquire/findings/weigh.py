"""The causes that change the whole curve, weighed against each other (Bayes).

Each cause says what the unit would give at each speed, what ripple there would be and what the
field would draw. What is not known of a sound unit (its level, its cut-in speed, the battery's
resistance) is spread as units of one make are, and shared by all speeds.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from acquire.curve.model import FloatArray
from acquire.findings.bridge_faults import (
    OPEN_DIODE,
    OPEN_PHASE,
    SOUND,
    TWO_OPEN_DIODES,
    UNEVEN_PHASE,
    BridgeFault,
)
from acquire.findings.case import Case
from acquire.findings.expected import Expected
from acquire.judge.steady_point import SteadyPoint

Cause = Literal[
    "sound",
    "open diode",
    "two open diodes",
    "open phase",
    "uneven phase",
    "weak field",
    "shorted turns",
    "speed read wrong",
    "other",
]

# Our choices, set on simulated units of two makes; no published source.
LEVEL_SD = 0.06
"""Spread of level among sound units of one make, and of ratings."""
LEVEL_MEAN = 0.02
POINT_SD = 0.03
"""What the shape of a sound unit's curve may differ from that of its rating, speed by speed."""
FAULT_POINT_SD = 0.05
COLD_SD = 0.02
FLOOR_SHARE = 0.01
"""Currents below this share of the top current all count as this much."""
SOURCE_OHM, SOURCE_LOG_SD = 0.009, 0.5
"""What ripple current meets: battery and cable, on a 12 V system."""
RIPPLE_POINT_SD, RIPPLE_NOISE_VOLTS = 0.15, 0.003
CHECKED_AT, CHECKED_SD = 3.0, 0.4
"""A ripple check is made about three times the cut-in speed, at about half of the rated amps."""
FIELD_OHM, FIELD_LOG_SD = 2.4, 0.22
"""Rotor winding at 20 °C, on a 12 V system (four times that on 24 V)."""
ROTOR_ABOVE_CASE_K = 20.0
FROM_TOP = 0.05
"""Speeds where a sound unit gives less than this share of its top current tell nothing."""


Lines = tuple[float, float, float]
"""First, second and sixth line of the ripple, over the root of the sum of their squares."""
LINES_SD = 0.13


@dataclass(frozen=True, slots=True)
class _Hypothesis:
    """One cause in one degree."""

    cause: Cause
    prior: float
    amps: Callable[[Expected, FloatArray], FloatArray]
    bridge: BridgeFault = SOUND
    point_sd: float = FAULT_POINT_SD
    level_sd: float = LEVEL_SD
    n0_sd: float = 0.0
    field_log_ohm: float = 0.0
    field_log_sd: float = FIELD_LOG_SD


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
    scores: list[tuple[_Hypothesis, float, FloatArray]] = []
    for one in _hypotheses(case):
        predicted = np.maximum(one.amps(expected, rpm), floor)
        score = math.log(one.prior) + _log_density(
            y - np.log(predicted / sound) - LEVEL_MEAN,
            _covariance(one, expected, rpm, reading_sd, case),
        )
        score += _ripple_score(case, points, one.bridge, rpm / expected.cut_in_rpm)
        score += _lines_score(lines, one.bridge) + _field_score(case, field_ohm, one)
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
    scores: list[tuple[_Hypothesis, float, FloatArray]],
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
    whole = sum(chance.values())
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


# ---- the causes ------------------------------------------------------------------------------

PRIOR: dict[Cause, float] = {
    "sound": 0.82,
    "open diode": 0.05,
    "two open diodes": 0.01,
    "open phase": 0.02,
    "uneven phase": 0.01,
    "weak field": 0.03,
    "shorted turns": 0.03,
    "speed read wrong": 0.01,
    "other": 0.02,
}
"""Before anything is read (our choice: most units that come back are sound or have one fault)."""


def _hypotheses(case: Case) -> list[_Hypothesis]:
    def bridge(fault: BridgeFault) -> Callable[[Expected, FloatArray], FloatArray]:
        def amps(expected: Expected, rpm: FloatArray) -> FloatArray:
            share = fault.share_at(rpm / expected.cut_in_rpm)
            gross = expected.amps(rpm) + expected.field_amps
            return share * gross - expected.field_amps

        return amps

    found = [_Hypothesis("sound", PRIOR["sound"], bridge(SOUND), point_sd=POINT_SD)]
    for cause, fault in _BRIDGE.items():
        found.append(_Hypothesis(cause, PRIOR[cause], bridge(fault), bridge=fault))
    found += _weak_fluxes("weak field", 0.76, 0.12, field=0.7, field_sd=0.35)
    found += _weak_fluxes("shorted turns", 0.84, 0.07, field=-0.29, field_sd=0.25)
    found.append(
        _Hypothesis("other", PRIOR["other"], bridge(SOUND), level_sd=0.5, n0_sd=0.15, point_sd=0.1)
    )
    if case.speed_source != "shaft_rpm":
        found += _wrong_speeds()
    return found


_BRIDGE: dict[Cause, BridgeFault] = {
    "open diode": OPEN_DIODE,
    "two open diodes": TWO_OPEN_DIODES,
    "open phase": OPEN_PHASE,
    "uneven phase": UNEVEN_PHASE,
}


def _weak_fluxes(
    cause: Cause, middle: float, spread: float, *, field: float, field_sd: float
) -> list[_Hypothesis]:
    """The same cause in degrees: flux at so many shares of what it should be."""
    fluxes = [0.5 + 0.03 * k for k in range(15)]
    weights = [math.exp(-0.5 * (math.log(f / middle) / spread) ** 2) for f in fluxes]
    whole = sum(weights)

    def at(flux: float) -> Callable[[Expected, FloatArray], FloatArray]:
        return lambda expected, rpm: expected.amps(rpm, flux=flux)

    return [
        _Hypothesis(
            cause,
            PRIOR[cause] * weight / whole,
            at(flux),
            field_log_ohm=field,
            field_log_sd=field_sd,
        )
        for flux, weight in zip(fluxes, weights, strict=True)
    ]


def _wrong_speeds() -> list[_Hypothesis]:
    """Speed from W, engine or motor: a wrong number of poles or pulley scales it."""
    scales = (0.75, 6 / 7, 7 / 8, 8 / 7, 7 / 6, 4 / 3)

    def at(scale: float) -> Callable[[Expected, FloatArray], FloatArray]:
        return lambda expected, rpm: expected.amps(rpm, speed=scale)

    return [
        _Hypothesis("speed read wrong", PRIOR["speed read wrong"] / len(scales), at(scale))
        for scale in scales
    ]


# ---- the evidence ----------------------------------------------------------------------------


def _telling(case: Case, expected: Expected) -> list[SteadyPoint]:
    """Points at the test voltage where a sound unit would give something."""
    points = []
    for p in case.usable:
        low = case.test_volts is not None and p.volts is not None
        if low and (p.volts or 0.0) < (case.test_volts or 0.0) - 3.0 * case.volts_within:
            continue
        sound = float(expected.amps(np.array([p.shaft_rpm], float))[0])
        if sound >= FROM_TOP * expected.i_max_amps:
            points.append(p)
    return points


def _reading_sd(point: SteadyPoint, floor: float) -> float:
    amps = max(point.amps or 0.0, floor)
    return math.hypot((point.u_amps or 0.0) / amps, 0.5 * floor / amps)


def _covariance(
    one: _Hypothesis,
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


def _log_density(residual: FloatArray, covariance: FloatArray) -> float:
    """Log of the normal density."""
    _, log_det = np.linalg.slogdet(covariance)
    square = float(residual @ np.linalg.solve(covariance, residual))
    return -0.5 * (square + float(log_det) + len(residual) * math.log(2.0 * math.pi))


def _ripple_score(
    case: Case, points: list[SteadyPoint], bridge: BridgeFault, speed_ratio: FloatArray
) -> float:
    """Ripple volts over current: the bridge's ripple times what the ripple current meets."""
    rows: list[tuple[float, float]] = []
    ripple = bridge.ripple_at(speed_ratio)
    for point, factor in zip(points, ripple, strict=True):
        volts = case.mean(point, "ripple_volts")
        amps = point.amps or 0.0
        if volts is None or amps < 0.1 * case.top_amps:
            continue
        volts = max(volts, RIPPLE_NOISE_VOLTS)
        ohm = volts / (amps * float(factor)) / case.scale
        rows.append(
            (math.log(ohm / SOURCE_OHM), math.hypot(RIPPLE_POINT_SD, RIPPLE_NOISE_VOLTS / volts))
        )
    checked = checked_ripple_volts(case)
    if not rows and checked is not None:
        half = 0.5 * case.top_amps
        factor = float(bridge.ripple_at(np.array([CHECKED_AT]))[0])
        ohm = max(checked, RIPPLE_NOISE_VOLTS) / (half * factor) / case.scale
        rows.append((math.log(ohm / SOURCE_OHM), CHECKED_SD))
    if not rows:
        return 0.0
    residual = np.array([row[0] for row in rows])
    covariance = np.diag([row[1] ** 2 for row in rows]) + SOURCE_LOG_SD**2
    return _log_density(residual, covariance)


def mean_lines(case: Case) -> Lines | None:
    """The lines of all bursts with some current, averaged; None where there is no burst."""
    rows = []
    for point in case.usable:
        lines = case.seen.ripple_lines.get(point.step)
        if lines is None or (point.amps or 0.0) < 0.1 * case.top_amps:
            continue
        parts = [lines.get(k, 0.0) for k in (1, 2, 6)]
        whole = math.hypot(*parts)
        if whole > 0.0:
            rows.append([part / whole for part in parts])
    if not rows:
        return None
    first, second, sixth = (sum(row[k] for row in rows) / len(rows) for k in range(3))
    return first, second, sixth


def _lines_score(lines: Lines | None, bridge: BridgeFault) -> float:
    if lines is None:
        return 0.0
    return -0.5 * (math.dist(lines, bridge.lines) / LINES_SD) ** 2


def _field_score(case: Case, field_ohm: float | None, one: _Hypothesis) -> float:
    if field_ohm is None:
        return 0.0
    off = math.log(field_ohm / (FIELD_OHM * case.scale**2)) - one.field_log_ohm
    return -0.5 * (off / one.field_log_sd) ** 2 - math.log(one.field_log_sd)


def rotor_ohm_20(case: Case) -> float | None:
    """Resistance of the rotor winding, brought to 20 °C; None where nothing tells of it."""
    checked = _checked(case, "rotor", "ohm")
    if checked is not None and checked > 0.0:
        return checked
    found = []
    for point in case.usable:
        amps = case.mean(point, "field_amps")
        volts = case.mean(point, "field_volts") or point.volts
        if amps is None or volts is None or amps < 0.2:
            continue
        rotor_c = (point.case_c if point.case_c is not None else 40.0) + ROTOR_ABOVE_CASE_K
        ohm = max(volts - 0.7 * case.scale**0.5, 0.1) / amps
        found.append(ohm / (1.0 + 0.00393 * (rotor_c - 20.0)))
    return sorted(found)[len(found) // 2] if found else None


def checked_ripple_volts(case: Case) -> float | None:
    """What a check of the ripple gave [V AC]; None where there was none."""
    return _checked(case, "ripple", "V")


def _checked(case: Case, word: str, unit_of_measure: str) -> float | None:
    for check in case.checks:
        number = check.value
        if word not in check.name.lower() or check.unit_of_measure != unit_of_measure:
            continue
        if isinstance(number, float | int) and not isinstance(number, bool):
            return float(number)
    return None
