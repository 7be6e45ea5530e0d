"""The curve through points, beside the reference library's."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from acquire.curve.monotone_cubic import MonotoneCubic

HEIGHTS = st.floats(-50.0, 50.0).map(lambda height: round(height, 9))
"""To a billionth: steps too small to be divided by overflow in the reference library as well."""
POINTS = st.lists(st.tuples(st.floats(0.01, 10.0), HEIGHTS), min_size=3, max_size=20)


@given(POINTS)
def test_value_and_steepness_are_those_of_the_reference_library(
    points: list[tuple[float, float]],
) -> None:
    # SciPy's PchipInterpolator: the same published method.
    x = np.cumsum([wide for wide, _ in points])
    y = np.array([high for _, high in points])
    where = np.linspace(x[0], x[-1], 50)
    value, steepness = MonotoneCubic(list(x), list(y)).at(where)
    reference = PchipInterpolator(x, y)
    np.testing.assert_allclose(value, reference(where), rtol=1e-9, atol=1e-9)
    size = 1.0 + float(np.abs(np.diff(y) / np.diff(x)).max())
    np.testing.assert_allclose(
        steepness, reference.derivative()(where), rtol=1e-7, atol=1e-9 * size
    )


def test_between_rising_points_it_never_falls() -> None:
    x, y = [1.0, 1.02, 1.5, 9.0], [0.0, 0.9, 0.91, 1.0]
    value, _ = MonotoneCubic(x, y).at(np.linspace(1.0, 9.0, 5000))
    assert (np.diff(value) >= 0.0).all()
    assert float(value.max()) <= 1.0
