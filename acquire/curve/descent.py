"""A quick way down for smooth problems of a few parameters that begin near their minimum.

Levenberg-Marquardt with Nielsen's damping (K. Madsen, H. B. Nielsen, O. Tingleff, "Methods for
non-linear least squares problems", 2004), parameters kept inside their bounds, the soft L1 loss by
its first and second derivative. It gives up rather than guess: then the slower solver with its
several starts is asked.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.curve.model import FloatArray

Function = Callable[[FloatArray], FloatArray]
_MOST_STEPS = 80
_MOST_DAMPING = 1e10
_NOTHING = 1e-8
"""A promised fall of the cost below this share of it is nothing."""
_LITTLE = 1e-4
"""Where no step leads down although one promises this share at most, the slope is not quite that
of the ground (a map read between grid points): here is the bottom, to some hundredths of sigma."""
_STILL = 1e-7
"""A step that moves every parameter by less than this share of itself is the last."""


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the descent stands: parameters, robust cost, weighed residuals, curvature weights."""

    parameters: FloatArray
    cost: float
    pulls: FloatArray
    curvature: FloatArray


def descend(
    residuals: Function,
    jacobian: Function,
    start: FloatArray,
    *,
    bounds: tuple[FloatArray, FloatArray],
    robust: int,
    softness: float,
) -> FloatArray | None:
    """Parameters at the minimum below `start`, or None where no minimum was reached for sure.

    The first `robust` residuals go through the soft L1 loss, the rest counts in full.
    """

    def place(parameters: FloatArray) -> _Place:
        return _placed(parameters, residuals(parameters), robust, softness)

    here, damping = place(start), 1e-3
    for _ in range(_MOST_STEPS):
        rows = jacobian(here.parameters)
        slope = _Slope((rows.T * here.curvature) @ rows, -rows.T @ here.pulls)
        free = _free(here.parameters, slope.downhill, bounds)
        promise = slope.promise(free)
        if promise <= _NOTHING * here.cost:
            return here.parameters
        there, damping = _lower(here, slope, free, place=place, bounds=bounds, damping=damping)
        if there is None:
            return here.parameters if promise <= _LITTLE * here.cost else None
        moved = np.abs(there.parameters - here.parameters)
        here = there
        if np.all(moved <= _STILL * np.abs(here.parameters)):
            return here.parameters
    return None


@dataclass(frozen=True, slots=True)
class _Slope:
    """The ground underfoot: J'J with curvature weights (p, p), and the way down (p,)."""

    information: FloatArray
    downhill: FloatArray

    def step(self, free: NDArray[np.bool_], damping: float) -> FloatArray:
        """The damped step of the free parameters; the others stay."""
        damped = self.information + np.diag(damping * np.diag(self.information) + 1e-300)
        step = np.zeros_like(self.downhill)
        try:
            step[free] = np.linalg.solve(damped[np.ix_(free, free)], self.downhill[free])
        except np.linalg.LinAlgError:
            step[free] = self.downhill[free] / np.diag(damped)[free]
        return step

    def promise(self, free: NDArray[np.bool_]) -> float:
        """By how much the cost would fall with a step that is hardly damped."""
        return 0.5 * float(self.step(free, 1e-9) @ self.downhill)


def _lower(
    here: _Place,
    slope: _Slope,
    free: NDArray[np.bool_],
    *,
    place: Callable[[FloatArray], _Place],
    bounds: tuple[FloatArray, FloatArray],
    damping: float,
) -> tuple[_Place | None, float]:
    """A place below `here` and the damping to go on with; None where no step leads down."""
    growth = 2.0
    while damping <= _MOST_DAMPING:
        there = place(np.clip(here.parameters + slope.step(free, damping), *bounds))
        moved = there.parameters - here.parameters
        if there.cost < here.cost:
            promised = 0.5 * float(
                moved @ (slope.downhill + damping * np.diag(slope.information) * moved)
            )
            gain = (here.cost - there.cost) / promised if promised > 0 else 0.0
            return there, damping * max(1 / 3, 1 - (2 * min(gain, 1.0) - 1) ** 3)
        damping, growth = damping * growth, growth * 2
    return None, damping


def _placed(parameters: FloatArray, residuals: FloatArray, robust: int, softness: float) -> _Place:
    squares = residuals * residuals
    root = np.sqrt(1 + squares[:robust] / softness**2)
    pulls, curvature = residuals.copy(), np.ones_like(residuals)
    pulls[:robust] /= root
    curvature[:robust] = root**-3
    bent = 2 * softness**2 * (root - 1)
    cost = 0.5 * (float(bent.sum()) + float(squares[robust:].sum()))
    return _Place(parameters, cost, pulls, curvature)


def _free(
    parameters: FloatArray, downhill: FloatArray, bounds: tuple[FloatArray, FloatArray]
) -> NDArray[np.bool_]:
    """Parameters that may still move: not those pressed against a bound."""
    low, high = bounds
    pressed = ((parameters <= low) & (downhill <= 0)) | ((parameters >= high) & (downhill >= 0))
    free: NDArray[np.bool_] = ~pressed & (downhill != 0)
    return free
