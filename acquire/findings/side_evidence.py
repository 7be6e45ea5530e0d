"""What else tells the causes apart: ripple, its lines, the field; from channels or from checks."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from acquire.curve.model import FloatArray
from acquire.findings.bridge_faults import BridgeFault
from acquire.findings.case import Case
from acquire.findings.causes import Hypothesis
from acquire.judge.steady_point import SteadyPoint
from acquire.plain_sum import plain_sum

Lines = tuple[float, float, float]
"""First, second and sixth line of the ripple, over the root of the sum of their squares."""

# Our choices, set on simulated units of two makes; no published source.
LINES_SD = 0.13
SOURCE_OHM, SOURCE_LOG_SD = 0.009, 0.5
"""What ripple current meets: battery and cable, on a 12 V system."""
RIPPLE_POINT_SD, RIPPLE_NOISE_VOLTS = 0.15, 0.003
RIPPLE_FROM = 0.1
"""Ripple is compared where the current is at least this share of the top current."""
CHECKED_AT, CHECKED_SD = 3.0, 0.4
"""A ripple check is made about three times the cut-in speed, at about half of the rated amps."""
FIELD_OHM = 2.4
"""Rotor winding at 20 °C, on a 12 V system (four times that on 24 V)."""
ROTOR_ABOVE_CASE_K = 20.0
"""How much warmer the rotor is than the case while the unit gives current [K]."""


def log_density(residual: FloatArray, covariance: FloatArray) -> float:
    """Log of the normal density."""
    _, log_det = np.linalg.slogdet(covariance)
    square = float(residual @ np.linalg.solve(covariance, residual))
    return -0.5 * (square + float(log_det) + len(residual) * math.log(2.0 * math.pi))


def ripple_score(
    case: Case, points: Sequence[SteadyPoint], bridge: BridgeFault, speed_ratio: FloatArray
) -> float:
    """Ripple volts over current: the bridge's ripple times what the ripple current meets."""
    rows: list[tuple[float, float]] = []
    ripple = bridge.ripple_at(speed_ratio)
    for point, factor in zip(points, ripple, strict=True):
        volts = case.mean(point, "ripple_volts")
        amps = point.amps or 0.0
        if volts is None or amps < RIPPLE_FROM * case.top_amps:
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
    return log_density(residual, covariance)


def mean_lines(case: Case) -> Lines | None:
    """The lines of all bursts with some current, averaged; None where there is no burst."""
    rows = []
    for point in case.usable:
        lines = case.seen.ripple_lines.get(point.step)
        if lines is None or (point.amps or 0.0) < RIPPLE_FROM * case.top_amps:
            continue
        parts = [lines.get(k, 0.0) for k in (1, 2, 6)]
        whole = math.hypot(*parts)
        if whole > 0.0:
            rows.append([part / whole for part in parts])
    if not rows:
        return None
    first, second, sixth = (plain_sum(row[k] for row in rows) / len(rows) for k in range(3))
    return first, second, sixth


def lines_score(lines: Lines | None, bridge: BridgeFault) -> float:
    """Log likelihood of the lines; 0 where there is no burst."""
    if lines is None:
        return 0.0
    return -0.5 * (math.dist(lines, bridge.lines) / LINES_SD) ** 2


def field_score(case: Case, field_ohm: float | None, one: Hypothesis) -> float:
    """Log likelihood of the rotor's resistance; 0 where nothing tells of it."""
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
