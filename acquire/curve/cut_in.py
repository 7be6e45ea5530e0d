"""Figures read off the curve: cut-in speed, idle and rated current, speeds for part of the top.

The words are those of ISO 8854 and SAE J56: cut-in speed is where the curve meets the speed axis;
idle and rated current belong to speeds that are stated with the rating, never assumed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from acquire.curve.band import KNEE_HIGH_SHARE
from acquire.curve.one_model import ModelFit
from acquire.curve.points import BandPoint, Estimate
from acquire.curve.weighing import FOOT_SHARE, WeighedPoints
from acquire.plain_sum import plain_sum

if TYPE_CHECKING:
    from acquire.curve.fitted import CurveFit


def cut_in(
    points: WeighedPoints, bridge_map: ModelFit, hyperbola: ModelFit, *, spread: float
) -> Estimate | None:
    """Cut-in speed in rpm, or None where no point on the steep part reveals it.

    Both models say where they meet the axis. They are averaged by how well each explains the
    points (weights exp(-misfit / 2), misfits in units of what the points scatter), and their
    disagreement goes into the uncertainty. No cut-in lies below a speed at which nothing flowed.
    """
    shares = points.amps / points.top_amps
    if not np.any((shares > FOOT_SHARE) & (shares <= KNEE_HIGH_SHARE)):
        return None
    unit = max(1.0, spread) ** 2
    lead = (hyperbola.misfit - bridge_map.misfit) / unit
    trust = 1 / (1 + math.exp(max(-60.0, min(60.0, -lead / 2))))
    low, high = _bracket(points)
    return _average(
        [
            (trust, _foot(bridge_map, low, high)),
            (1 - trust, _foot(hyperbola, low, high)),
        ]
    )


def _bracket(points: WeighedPoints) -> tuple[float, float]:
    """The last speed at which nothing flowed below the first at which something did."""
    still = points.shaft_rpm[points.foot & (points.shaft_rpm < points.flowing_rpm)]
    return float(still.max(initial=0.0)), points.flowing_rpm


def _foot(fit: ModelFit, low: float, high: float) -> Estimate:
    value = float(np.clip(fit.parameters[1], low, high))
    return Estimate(value, math.sqrt(max(float(fit.covariance[1, 1]), 0.0)))


def _average(weighted: list[tuple[float, Estimate]]) -> Estimate:
    mean = plain_sum(weight * estimate.value for weight, estimate in weighted)
    variance = plain_sum(
        weight * (estimate.u**2 + (estimate.value - mean) ** 2) for weight, estimate in weighted
    )
    return Estimate(mean, math.sqrt(variance))


@dataclass(frozen=True, slots=True)
class CurveFigures:
    """What a rating is stated in, read off the fitted curve; None where it cannot be said."""

    cut_in_rpm: Estimate | None
    idle: BandPoint | None
    rated: BandPoint | None


def curve_figures(
    fit: CurveFit, *, idle_rpm: float | None = None, rated_rpm: float | None = None
) -> CurveFigures:
    """The figures of the curve; `idle_rpm` and `rated_rpm` are those stated with the rating."""
    return CurveFigures(
        cut_in_rpm=fit.cut_in,
        idle=None if idle_rpm is None else fit.at([idle_rpm])[0],
        rated=None if rated_rpm is None else fit.at([rated_rpm])[0],
    )
