"""The hyperbola: amps = i_max (n - n0) / ((n - n0) + k n0), nothing below n0.

It knows no physics, and that is its use beside the bridge map. Fitted to published output tables
each of the two is the better one in turn, and they fail in different places (the hyperbola rises
too early above the knee and too long at the top), so where they part, the points do not say which
shape is right. On one published table that prints its cut-in speed, 1100 rpm (Citroen CX, Op. MA
530.0: 0, 40, 69, 78, 80 A at 1100, 1500, 3000, 6000, 8000 rpm), it gives that speed back.

The closed form of the constant-voltage circuit with resistance was the other candidate. It shares
the bridge map's assumptions and lies within half a percent of it almost everywhere: it would
have agreed with the bridge map where both are wrong.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from acquire.curve.model import CurveModel, FloatArray


def current(
    shaft_rpm: float | FloatArray, *, i_max_amps: float, n0_rpm: float, k: float
) -> FloatArray:
    """Amps at `shaft_rpm`; `i_max_amps` is the asymptote in A, `k` the half-way rise over n0."""
    return _current(np.asarray(shaft_rpm, float), np.array([i_max_amps, n0_rpm, k]))


def _above(shaft_rpm: FloatArray, parameters: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Speed above n0, and the denominator."""
    above = np.maximum(shaft_rpm - parameters[1], 0.0)
    return above, above + parameters[2] * parameters[1]


def _current(shaft_rpm: FloatArray, parameters: FloatArray) -> FloatArray:
    above, whole = _above(shaft_rpm, parameters)
    amps: FloatArray = parameters[0] * above / whole
    return amps


def _jacobian(shaft_rpm: FloatArray, parameters: FloatArray) -> FloatArray:
    i_max_amps, n0_rpm, k = parameters
    above, whole = _above(shaft_rpm, parameters)
    by_n0 = np.where(above > 0, -i_max_amps * k * shaft_rpm / whole**2, 0.0)
    by_k = -i_max_amps * above * n0_rpm / whole**2
    return np.column_stack([above / whole, by_n0, by_k])


def _slope(shaft_rpm: FloatArray, parameters: FloatArray) -> FloatArray:
    i_max_amps, n0_rpm, k = parameters
    above, whole = _above(shaft_rpm, parameters)
    return np.where(above > 0, i_max_amps * k * n0_rpm / whole**2, 0.0)


def _traced(shaft_rpm: FloatArray, parameters: Sequence[float]) -> tuple[FloatArray, FloatArray]:
    i_max_amps, n0_rpm, k = parameters
    above = np.maximum(shaft_rpm - n0_rpm, 0.0)
    whole = above + k * n0_rpm
    rows = np.empty((3, len(shaft_rpm)))
    rows[0] = above / whole
    fall = i_max_amps / (whole * whole)
    # At n0 itself the lower side counts: n0 never exceeds a speed at which current flows.
    rows[1] = fall * (-k * shaft_rpm) * (shaft_rpm >= n0_rpm)
    rows[2] = fall * (-n0_rpm * above)
    return i_max_amps * rows[0], rows


HYPERBOLA = CurveModel(
    name="hyperbola",
    parameter_names=("i_max_amps", "n0_rpm", "k"),
    current=_current,
    jacobian=_jacobian,
    slope=_slope,
    traced=_traced,
    # Published tables give 0.15 to 0.6, most near 0.4; the spread is an engineering choice.
    shape_centre=0.4,
    shape_log_sd=0.6,
    shape_bounds=(1e-3, 4.0),
)
