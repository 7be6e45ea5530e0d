"""Student's t: against scipy, a printed table, and the check value of the drift test."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from acquire.settle.student import student_cdf, student_quantile

TABLE = [
    (1, 6.314, 12.706),
    (2, 2.920, 4.303),
    (4, 2.132, 2.776),
    (8, 1.860, 2.306),
    (10, 1.812, 2.228),
    (20, 1.725, 2.086),
    (30, 1.697, 2.042),
]
"""Degrees of freedom, two-sided 90 % and 95 % points: 40 CFR 1065.602, table of critical t."""


@pytest.mark.parametrize(("dof", "ninety", "ninety_five"), TABLE)
def test_quantiles_are_those_of_the_printed_table(
    dof: int, ninety: float, ninety_five: float
) -> None:
    assert student_quantile(0.95, dof) == pytest.approx(ninety, abs=6e-4)
    assert student_quantile(0.975, dof) == pytest.approx(ninety_five, abs=6e-4)


@pytest.mark.parametrize("dof", [1, 2, 3, 6, 7, 8, 25, 120, 500])
def test_distribution_and_quantile_agree_with_scipy(dof: int) -> None:
    near = 1e-12 if dof <= 200 else 2e-3
    for t in (-4.0, -0.7, 0.0, 1.3, 3.1):
        assert student_cdf(t, dof) == pytest.approx(float(stats.t.cdf(t, dof)), abs=near)
    for p in (0.05, 0.5, 0.95, 0.995):
        assert student_quantile(p, dof) == pytest.approx(float(stats.t.ppf(p, dof)), abs=10 * near)


def test_the_doubt_of_a_ten_second_window_has_its_check_value() -> None:
    """10 t(.95, 8) / sqrt(82.5): ten groups a second apart, drift over ten seconds."""
    assert 10.0 * student_quantile(0.95, 8) / math.sqrt(82.5) == pytest.approx(2.0473, abs=5e-5)
