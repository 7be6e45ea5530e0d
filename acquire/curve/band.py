"""The 95 % band around the curve: how far the truth may lie from it, at each speed.

The half-width is the largest of four: the delta-method band of the bridge map, the distance to
the hyperbola (the doubt about the shape), what may happen unseen in a wide gap between points, and,
where the steep part was not measured, a floor.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from acquire.curve.model import FloatArray
from acquire.curve.one_model import ModelFit
from acquire.curve.points import NORMAL_95
from acquire.curve.weighing import WeighedPoints

KNEE_LOW_SHARE, KNEE_HIGH_SHARE = 0.10, 0.60
"""A point between these shares of the top current has measured the steep part."""
UNMEASURED_KNEE_SHARE = 0.26
"""Half-width floor on an unmeasured steep part, as a share of the fitted top current: from 3000
rpm up alone, simulated curves were missed at 1500 rpm by 6 to 13 % (one standard deviation)."""
GAP_SHARE = 0.03
"""Half-width in the middle of a gap in which the speed grows e-fold, as a share of the top
current: what leaving out points of published output tables shows (service manuals of Citroen CX,
Renault Scenic, Citroen Xantia and a Mercury outboard: 2 % in gaps of 1:2, 3 to 4 % in 1:4)."""
FAR_RATIO = 1.25
"""Beyond this many times the highest measured speed the curve is a guess."""


def half_width(
    shaft_rpm: FloatArray,
    *,
    points: WeighedPoints,
    bridge_map: ModelFit,
    hyperbola: ModelFit,
    common_gain: float,
) -> FloatArray:
    """Half-width of the 95 % band at each speed, A; shape of `shaft_rpm`."""
    amps = bridge_map.amps(shaft_rpm)
    own = coverage_factor(bridge_map.spread, points.degrees_of_freedom) * bridge_map.u_amps(
        shaft_rpm
    )
    doubt_of_points = np.hypot(own, NORMAL_95 * common_gain * amps)
    distance = np.abs(amps - hyperbola.amps(shaft_rpm))
    floor = np.where(
        below_measured_knee(shaft_rpm, points),
        UNMEASURED_KNEE_SHARE * max(float(bridge_map.parameters[0]), points.top_amps),
        0.0,
    )
    unseen = GAP_SHARE * points.top_amps * _gap(shaft_rpm, points.shaft_rpm)
    widest: FloatArray = np.maximum.reduce([doubt_of_points, distance, unseen, floor])
    return widest


def _gap(shaft_rpm: FloatArray, measured_rpm: FloatArray) -> FloatArray:
    """How far each speed is inside a gap: 0 at the measured speeds and outside them; in the middle
    of a gap the natural logarithm of the ratio of its ends."""
    ends = np.log(np.unique(measured_rpm[measured_rpm > 0]))
    at = np.log(np.maximum(shaft_rpm, 1e-9))
    right = np.clip(np.searchsorted(ends, at), 1, max(len(ends) - 1, 1))
    if len(ends) < 2:
        return np.zeros(shaft_rpm.shape)
    width = ends[right] - ends[right - 1]
    share = np.clip((at - ends[right - 1]) / width, 0.0, 1.0)
    inside: FloatArray = 4 * share * (1 - share) * width
    return inside


def coverage_factor(spread: float, degrees_of_freedom: int) -> float:
    """Standard uncertainties that make 95 %: normal while the points keep to their sigmas.

    Where they scatter more, their own spread is used and Student's t with it. One degree of
    freedom counts as two then: the stated sigmas are worth at least one more.
    """
    if spread <= 1.0 or degrees_of_freedom < 1:
        return NORMAL_95
    from scipy.special import stdtrit

    return float(stdtrit(max(degrees_of_freedom, 2), 0.975))


def knee_measured(points: WeighedPoints) -> bool:
    """Whether a point lies on the steep part of the curve."""
    shares = points.amps / points.top_amps
    return bool(np.any((shares >= KNEE_LOW_SHARE) & (shares <= KNEE_HIGH_SHARE)))


def below_measured_knee(shaft_rpm: FloatArray, points: WeighedPoints) -> NDArray[np.bool_]:
    """Which speeds lie where the steep part should be and no point has measured it."""
    if knee_measured(points):
        return np.zeros(shaft_rpm.shape, bool)
    high = points.amps > KNEE_HIGH_SHARE * points.top_amps
    below: NDArray[np.bool_] = shaft_rpm < points.shaft_rpm[high].min()
    return below


def extrapolated(shaft_rpm: FloatArray, points: WeighedPoints) -> NDArray[np.bool_]:
    """Which speeds lie outside the measured ones."""
    outside: NDArray[np.bool_] = (shaft_rpm < points.shaft_rpm[0]) | (
        shaft_rpm > points.shaft_rpm[-1]
    )
    return outside
