"""One curve model fitted to the weighed points: where it lies, how well, and how surely."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from acquire.curve.descent import Look, descend
from acquire.curve.fitter import inverse, lowest_minimum
from acquire.curve.model import CurveModel, FloatArray
from acquire.curve.normal_equations import inverted
from acquire.curve.weighing import WeighedPoints

_N0_SHARES = (0.96, 0.91, 0.85, 0.78, 0.7, 0.6, 0.5, 0.4, 0.3)
_SHAPE_FACTORS = (0.2, 0.5, 1.0, 1.7, 3.0)
_RUNS = 3
"""Starts of the grid that are followed where the quick way down gives up."""
SOFTNESS = 1.5
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
    first = _minimum(model, points, points.sigma_amps, starts(model, points), SOFTNESS)
    sigma = points.sigma_amps
    if points.sigma_rpm.any():
        sigma = np.hypot(sigma, model.slope(points.shaft_rpm, first) * points.sigma_rpm)
    stretch = _robust_stretch(points, _misses(model, points, first) / sigma)
    if stretch == 1.0 and sigma is points.sigma_amps:
        return _judged(model, points, sigma, first)
    return fit_once(model, points, sigma=sigma, starts=first[None], softness=stretch * SOFTNESS)


def fit_once(
    model: CurveModel,
    points: WeighedPoints,
    *,
    sigma: FloatArray,
    starts: FloatArray,
    softness: float,
) -> ModelFit:
    """One round: the minimum below the first of `starts` (k, 3) from which the quick way down leads
    to one, else the lowest that the slower solver finds; `sigma` (n,) in A, the loss softened at
    `softness` sigmas."""
    return _judged(model, points, sigma, _minimum(model, points, sigma, starts, softness))


def _minimum(
    model: CurveModel,
    points: WeighedPoints,
    sigma: FloatArray,
    starts: FloatArray,
    softness: float,
) -> FloatArray:
    """Parameters (3,) at the minimum, by the quick way where there is one."""
    look, count = ground(model, points, sigma), len(sigma)
    low, high = _bounds(model, points)
    bend = np.full(count + 1, 1.0 / softness)
    bend[count] = 0.0
    for start in starts.tolist():
        quick = descend(look, start, bounds=(low.tolist(), high.tolist()), bend=bend)
        if quick is not None:
            return np.array(quick)
    return lowest_minimum(
        lambda parameters: look(parameters.tolist())[0],
        list(starts),
        bounds=(low, high),
        jacobian=lambda parameters: look(parameters.tolist())[1].T,
        scale=np.array([points.top_amps, points.flowing_rpm, model.shape_centre]),
        robust=count,
        softness=softness,
        tolerance=_TOLERANCE,
    ).parameters


def ground(model: CurveModel, points: WeighedPoints, sigma: FloatArray) -> Look:
    """What the solver looks at: residuals in sigmas (n + 1,), the last of them what is known of
    the shape, and their derivatives (3, n + 1)."""
    count, weights = len(sigma), 1.0 / sigma
    censored = points.censored if points.censored.any() else None
    shape_centre, shape_log_sd = model.shape_centre, model.shape_log_sd

    def look(parameters: Sequence[float]) -> tuple[FloatArray, FloatArray]:
        amps, by_parameters = model.traced(points.shaft_rpm, parameters)
        residuals, rows = np.empty(count + 1), np.zeros((3, count + 1))
        residuals[:count] = (amps - points.amps) * weights
        rows[:, :count] = by_parameters * weights
        if censored is not None:
            held = np.flatnonzero(censored & (residuals[:count] >= 0.0))
            residuals[held], rows[:, held] = 0.0, 0.0
        shape = float(parameters[2])
        residuals[count] = math.log(shape / shape_centre) / shape_log_sd
        rows[2, count] = 1.0 / (shape_log_sd * shape)
        return residuals, rows

    return look


def _misses(model: CurveModel, points: WeighedPoints, parameters: FloatArray) -> FloatArray:
    """Model less reading, A; a limited reading is missed only by a model that lies below it."""
    misses = model.current(points.shaft_rpm, parameters) - points.amps
    misses[points.censored] = np.minimum(misses[points.censored], 0.0)
    return misses


def _surprise(model: CurveModel, parameters: FloatArray) -> float:
    return math.log(parameters[2] / model.shape_centre) / model.shape_log_sd


def _bounds(model: CurveModel, points: WeighedPoints) -> tuple[FloatArray, FloatArray]:
    low = np.array([0.7 * points.top_amps, 0.2 * points.flowing_rpm, model.shape_bounds[0]])
    high = np.array([3.0 * points.top_amps, points.flowing_rpm, model.shape_bounds[1]])
    return low, high


def starts(model: CurveModel, points: WeighedPoints) -> FloatArray:
    """The best few (k, 3) of a grid over foot speed and shape, the top current solved for each.

    Both models depend on speed / foot speed alone, so that a shape is tried at all foot speeds in
    one go; a table of it is near enough.
    """
    weights, shares = 1.0 / points.sigma_amps, np.array(_N0_SHARES)
    ratios = points.shaft_rpm / (shares * points.flowing_rpm)[:, None]
    shapes = model.shape_centre * np.array(_SHAPE_FACTORS)
    form = np.array([np.interp(ratios, *_form(model, shape)) for shape in shapes.tolist()])
    form *= weights
    readings = points.amps * weights
    tops = form @ readings / np.maximum((form * form).sum(axis=2), 1e-12)
    misses = tops[:, :, None] * form - readings
    if points.censored.any():
        misses = np.where(points.censored, np.minimum(misses, 0.0), misses)
    bent = np.sqrt(1.0 + (misses / SOFTNESS) ** 2)
    surprise = (np.log(_SHAPE_FACTORS) / model.shape_log_sd) ** 2
    costs = (2.0 * misses * misses / (1.0 + bent)).sum(axis=2) + surprise[:, None]
    shape, share = np.divmod(costs.argsort(axis=None)[:_RUNS], len(shares))
    best = np.column_stack([tops[shape, share], shares[share] * points.flowing_rpm, shapes[shape]])
    low, high = _bounds(model, points)
    best_few: FloatArray = np.clip(best, low * 1.001, high * 0.999)
    return best_few


@lru_cache(maxsize=16)
def _form(model: CurveModel, shape: float) -> tuple[FloatArray, FloatArray]:
    """Speeds / foot speed and the share of the top current there."""
    ratios = np.geomspace(1.0, 200.0, 600)
    return ratios, model.current(ratios, np.array([1.0, 1.0, shape]))


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
    spread = math.sqrt(squares / degrees) if degrees > 0 else 0.0
    covariance = _covariance(model, points, sigma * max(1.0, spread), parameters, misses)
    return ModelFit(
        model=model,
        parameters=parameters,
        covariance=covariance,
        spread=spread,
        misfit=squares + _surprise(model, parameters) ** 2,
        residual_amps=misses,
        sigma=sigma,
    )


def _covariance(
    model: CurveModel,
    points: WeighedPoints,
    sigma: FloatArray,
    parameters: FloatArray,
    misses: FloatArray,
) -> FloatArray:
    """Covariance of the parameters (3, 3); a limited point below the model says nothing."""
    rows = model.jacobian(points.shaft_rpm, parameters) / sigma[:, None]
    rows[points.censored & (misses == 0.0)] = 0.0
    information = rows.T @ rows
    information[2, 2] += (model.shape_log_sd * parameters[2]) ** -2
    found = inverted(information.tolist())
    return inverse(information) if found is None else np.array(found)
