"""One curve model fitted to the weighed points: where it lies, how well, and how surely."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from acquire.curve.descent import descend
from acquire.curve.fitter import inverse, lowest_minimum
from acquire.curve.model import CurveModel, FloatArray
from acquire.curve.weighing import WeighedPoints

_N0_SHARES = (0.96, 0.85, 0.7, 0.5, 0.3)
_SHAPE_FACTORS = (0.2, 1.0, 3.0)
_RUNS = 3
"""Starts of the grid that are followed where the quick way down gives up."""
_SOFTNESS = 1.5
"""Sigmas beyond which a residual counts less and less."""
_TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class ModelFit:
    """A model at its best: parameters (3,), covariance (3, 3), spread in units of sigma."""

    model: CurveModel
    parameters: FloatArray
    covariance: FloatArray
    spread: float
    """Root mean square of residual / sigma over the degrees of freedom; 0 where there are none."""
    misfit: float
    """Sum of squared residuals / sigma, and of what was known beforehand."""
    residual_amps: FloatArray
    sigma: FloatArray

    def amps(self, shaft_rpm: FloatArray) -> FloatArray:
        """The fitted current, A, shape of `shaft_rpm`."""
        return self.model.current(shaft_rpm, self.parameters)

    def u_amps(self, shaft_rpm: FloatArray) -> FloatArray:
        """Standard uncertainty of the fitted current by the delta method, A."""
        by_parameters = self.model.jacobian(shaft_rpm, self.parameters)
        variance = np.einsum("ij,jk,ik->i", by_parameters, self.covariance, by_parameters)
        u_amps: FloatArray = np.sqrt(np.maximum(variance, 0.0))
        return u_amps


def fit_model(model: CurveModel, points: WeighedPoints) -> ModelFit:
    """Fit `model`: robust loss, weak knowledge of the shape, limited points as lower bounds.

    Fitted twice: the second time the speed uncertainty has been carried over by the slope, and
    the robust loss made softer where the points scatter more than they claim (else it would take
    every point for an outlier).
    """
    first = _minimum(model, points, points.sigma_amps, _starts(model, points), _SOFTNESS)
    sigma = np.hypot(points.sigma_amps, model.slope(points.shaft_rpm, first) * points.sigma_rpm)
    stretch = _robust_stretch(points, _misses(model, points, first) / sigma)
    if stretch == 1.0 and not points.sigma_rpm.any():
        return _judged(model, points, sigma, first)
    second = _minimum(model, points, sigma, [first], stretch * _SOFTNESS)
    return _judged(model, points, sigma, second)


def _minimum(
    model: CurveModel,
    points: WeighedPoints,
    sigma: FloatArray,
    starts: list[FloatArray],
    softness: float,
) -> FloatArray:
    """Parameters at the lowest minimum; the last residual is what is known of the shape."""

    def residuals(parameters: FloatArray) -> FloatArray:
        return np.append(_misses(model, points, parameters) / sigma, _surprise(model, parameters))

    def jacobian(parameters: FloatArray) -> FloatArray:
        return _rows(model, points, sigma, parameters)

    bounds, robust = _bounds(model, points), len(sigma)
    quick = descend(residuals, jacobian, starts[0], bounds=bounds, robust=robust, softness=softness)
    if quick is not None:
        return quick
    return lowest_minimum(
        residuals,
        starts,
        bounds=bounds,
        jacobian=jacobian,
        scale=np.array([points.top_amps, points.flowing_rpm, model.shape_centre]),
        robust=robust,
        softness=softness,
        tolerance=_TOLERANCE,
    ).parameters


def _misses(model: CurveModel, points: WeighedPoints, parameters: FloatArray) -> FloatArray:
    """Model less reading, A; a limited reading is missed only by a model that lies below it."""
    misses = model.current(points.shaft_rpm, parameters) - points.amps
    return np.where(points.censored, np.minimum(misses, 0.0), misses)


def _surprise(model: CurveModel, parameters: FloatArray) -> float:
    return float(np.log(parameters[2] / model.shape_centre) / model.shape_log_sd)


def _rows(
    model: CurveModel, points: WeighedPoints, sigma: FloatArray, parameters: FloatArray
) -> FloatArray:
    rows = model.jacobian(points.shaft_rpm, parameters) / sigma[:, None]
    above = points.censored & (model.current(points.shaft_rpm, parameters) >= points.amps)
    rows[above] = 0.0
    return np.vstack([rows, [0.0, 0.0, 1.0 / (model.shape_log_sd * parameters[2])]])


def _bounds(model: CurveModel, points: WeighedPoints) -> tuple[FloatArray, FloatArray]:
    low = np.array([0.7 * points.top_amps, 0.2 * points.flowing_rpm, model.shape_bounds[0]])
    high = np.array([3.0 * points.top_amps, points.flowing_rpm, model.shape_bounds[1]])
    return low, high


def _starts(model: CurveModel, points: WeighedPoints) -> list[FloatArray]:
    """The best few of a grid over foot speed and shape, the top current solved for each.

    Both models depend on speed / foot speed alone, so that a shape is tried at all foot speeds in
    one go.
    """
    low, high = _bounds(model, points)
    shares, count = np.array(_N0_SHARES), len(points.shaft_rpm)
    speeds = (points.shaft_rpm / shares[:, None]).ravel()
    readings = points.amps / points.sigma_amps
    rated = []
    for factor in _SHAPE_FACTORS:
        shape = factor * model.shape_centre
        form = model.current(speeds, np.array([1.0, points.flowing_rpm, shape]))
        form = form.reshape(len(shares), count) / points.sigma_amps
        tops = form @ readings / np.maximum((form * form).sum(axis=1), 1e-12)
        misses = tops[:, None] * form - readings
        misses = np.where(points.censored, np.minimum(misses, 0.0), misses)
        squares = (misses * misses).sum(axis=1) + (math.log(factor) / model.shape_log_sd) ** 2
        for share, top, square in zip(shares, tops, squares, strict=True):
            start = np.array([top, share * points.flowing_rpm, shape])
            rated.append((float(square), np.clip(start, low * 1.001, high * 0.999)))
    rated.sort(key=lambda pair: pair[0])
    return [start for _, start in rated[:_RUNS]]


def _robust_stretch(points: WeighedPoints, weighed_misses: FloatArray) -> float:
    """How many times sigma the points scatter, by the median; at least 1."""
    degrees = points.degrees_of_freedom
    if degrees < 1:
        return 1.0
    seen = np.abs(weighed_misses[~points.censored])
    return max(1.0, 1.4826 * float(np.median(seen)) * math.sqrt(seen.size / degrees))


def _judged(
    model: CurveModel, points: WeighedPoints, sigma: FloatArray, parameters: FloatArray
) -> ModelFit:
    misses = _misses(model, points, parameters)
    squares = float(np.sum((misses / sigma) ** 2))
    degrees = points.degrees_of_freedom
    spread = float(np.sqrt(squares / degrees)) if degrees > 0 else 0.0
    rows = _rows(model, points, sigma * max(1.0, spread), parameters)
    return ModelFit(
        model=model,
        parameters=parameters,
        covariance=inverse(rows.T @ rows),
        spread=spread,
        misfit=squares + _surprise(model, parameters) ** 2,
        residual_amps=misses,
        sigma=sigma,
    )
