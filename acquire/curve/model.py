"""What every curve model has: a current, its derivatives, and what is known of its shape."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CurveModel:
    """A curve of three parameters: top current (A), foot speed (rpm) and one for the shape.

    `current(shaft_rpm, parameters)` gives amps, shape (n,); `jacobian` gives its derivatives
    by the parameters, shape (n, 3); `slope` the derivative by speed in A/rpm, shape (n,).
    `traced` gives both in one look, as a solver wants them: amps (n,) and a row of derivatives for
    each parameter (3, n), those of the very function that `current` computes.
    The logarithm of the shape parameter is known beforehand to about `shape_log_sd` around
    `shape_centre`: weak, but enough to keep two or three points from bending the curve wildly.
    """

    name: str
    parameter_names: tuple[str, str, str]
    current: Callable[[FloatArray, FloatArray], FloatArray]
    jacobian: Callable[[FloatArray, FloatArray], FloatArray]
    slope: Callable[[FloatArray, FloatArray], FloatArray]
    traced: Callable[[FloatArray, Sequence[float]], tuple[FloatArray, FloatArray]]
    shape_centre: float
    shape_log_sd: float
    shape_bounds: tuple[float, float]
