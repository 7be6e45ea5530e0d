"""Bounded least squares from several starts: the lowest minimum found, with its Jacobian.

One start is not enough: on saturating curves a solver may stop at a wrong minimum without a word
(NIST StRD BoxBOD is such a curve).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from acquire.curve.model import FloatArray

Function = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class Minimum:
    """Where the sum is lowest: parameters (p,), cost, plain residuals (n,), Jacobian (n, p)."""

    parameters: FloatArray
    cost: float
    residuals: FloatArray
    jacobian: FloatArray

    def covariance(self) -> FloatArray:
        """(J'J)^-1: the covariance of the parameters where residuals are in units of sigma."""
        return inverse(self.jacobian.T @ self.jacobian)


def inverse(information: FloatArray) -> FloatArray:
    """Inverse of a symmetric matrix, scaled first; what nothing is known of counts as nothing."""
    size = np.sqrt(np.maximum(np.diag(information), 1e-300))
    scaled = np.linalg.pinv(information / np.outer(size, size), hermitian=True)
    result: FloatArray = np.asarray(scaled / np.outer(size, size), float)
    return result


def lowest_minimum(
    residuals: Function,
    starts: Sequence[FloatArray],
    *,
    bounds: tuple[FloatArray, FloatArray] | None = None,
    jacobian: Function | None = None,
    scale: FloatArray | Literal["jac"] = "jac",
    robust: int = 0,
    softness: float = 1.5,
    tolerance: float = 1e-12,
) -> Minimum:
    """The lowest of the minima reached from `starts` by the trust-region reflective method.

    The first `robust` residuals go through the soft L1 loss, beyond `softness` sigmas they count
    less and less; the others count in full (what is known beforehand is no outlier). Without
    `jacobian` it is taken by three-point differences.
    """
    from scipy.optimize import least_squares

    best = None
    for start in starts:
        found = least_squares(
            residuals,
            start,
            jac=jacobian or "3-point",
            bounds=bounds or (-np.inf, np.inf),
            method="trf",
            x_scale=scale,
            loss=_soft_loss(robust, softness) if robust else "linear",  # type: ignore[arg-type]
            ftol=tolerance,
            xtol=tolerance,
            gtol=tolerance,
        )
        if best is None or found.cost < best.cost:
            best = found
    if best is None:
        raise ValueError("at least one start is needed")
    at_best = residuals(best.x)
    # The solver's own Jacobian is bent by the loss; the plain one is wanted.
    plain = jacobian(best.x) if jacobian else np.asarray(best.jac, float)
    return Minimum(best.x, float(best.cost), at_best, plain)


def _soft_loss(robust: int, softness: float) -> Callable[[FloatArray], FloatArray]:
    """Soft L1 for the first `robust` squares, plain for the rest: values and two derivatives."""
    limit = softness**2

    def loss(squares: FloatArray) -> FloatArray:
        value, first, second = squares.copy(), np.ones_like(squares), np.zeros_like(squares)
        root = np.sqrt(1 + squares[:robust] / limit)
        value[:robust] = 2 * limit * (root - 1)
        first[:robust] = 1 / root
        second[:robust] = -0.5 / (limit * root**3)
        return np.stack([value, first, second])

    return loss
