"""The output curve through a handful of steady points."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from acquire.curve.bridge_map import BRIDGE_MAP
from acquire.curve.cut_in import cut_in
from acquire.curve.doubts import doubts
from acquire.curve.fitted import CurveFit
from acquire.curve.hyperbola import HYPERBOLA
from acquire.curve.model import FloatArray
from acquire.curve.one_model import ModelFit, fit_model
from acquire.curve.points import CannotFit, CurvePoint, Estimate
from acquire.curve.weighing import WeighedPoints, weigh

__all__ = ["CannotFit", "CurveFit", "CurvePoint", "fit_curve"]


def fit_curve(points: Sequence[CurvePoint], *, common_gain: float = 0.0) -> CurveFit:
    """Lay the output curve through `points`, in any order; speeds of shaft or engine alike.

    `common_gain` is the relative standard uncertainty that all readings share (the gain of the
    clamp). It is taken out of each `u_amps`, because it cannot bend the curve, and put back on
    the band and the top current as a whole.

    Raises CannotFit for fewer than two speeds, readings that are no numbers, or no current.
    """
    weighed = weigh(points, common_gain=common_gain)
    bridge_map, hyperbola = fit_model(BRIDGE_MAP, weighed), fit_model(HYPERBOLA, weighed)
    spread = min(bridge_map.spread, hyperbola.spread)
    where_it_cuts_in = cut_in(weighed, bridge_map, hyperbola, spread=spread)
    covariance = _with_gain(bridge_map, common_gain)
    return CurveFit(
        model=BRIDGE_MAP.name,
        parameters=_estimates(bridge_map, covariance),
        residual_sd_amps=_residual_sd(weighed, bridge_map),
        covariance=tuple(tuple(float(part) for part in row) for row in covariance),
        cut_in=where_it_cuts_in,
        warnings=doubts(weighed, bridge_map, hyperbola, where_it_cuts_in),
        points=weighed,
        bridge_map=bridge_map,
        hyperbola=hyperbola,
        common_gain=common_gain,
    )


def _with_gain(fit: ModelFit, common_gain: float) -> FloatArray:
    """The covariance with the shared gain, which moves the top current alone."""
    covariance = fit.covariance.copy()
    covariance[0, 0] += (common_gain * fit.parameters[0]) ** 2
    return covariance


def _estimates(fit: ModelFit, covariance: FloatArray) -> dict[str, Estimate]:
    u = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    return {
        name: Estimate(float(value), float(part))
        for name, value, part in zip(fit.model.parameter_names, fit.parameters, u, strict=True)
    }


def _residual_sd(points: WeighedPoints, fit: ModelFit) -> float:
    squares = float(np.sum(fit.residual_amps**2))
    return float(np.sqrt(squares / max(points.degrees_of_freedom, 1)))
