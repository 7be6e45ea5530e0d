"""Chances against published examples and reference implementations.

Clause numbers and printed figures of JCGM 101, JCGM 106 and ILAC-G8 are from memory of these
documents; the arithmetic is done again here.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy import integrate, stats

from acquire.judge.budget import Budget, Part
from acquire.judge.probability import (
    joint_chance,
    monte_carlo,
    p_conform,
    p_conform_of,
)
from acquire.judge.speed_result import Bar

MANY = 1_000_000
"""The number of trials the example itself uses."""
PHI: Callable[[float], float] = stats.norm.cdf


def test_jcgm_106_breakdown_voltage_of_a_zener_diode() -> None:
    # JCGM 106:2012, 7.3.2: measured -5.47 V, u 0.05 V, upper limit -5.40 V; printed 0.92.
    chance = p_conform(margin=-5.40 - -5.47, u=0.05)
    assert round(chance, 2) == 0.92
    assert chance == pytest.approx(0.91924, abs=5e-6)


def test_jcgm_106_burst_strength_has_a_lower_limit() -> None:
    # JCGM 106:2012, 7.3.3: measured 509.7 kPa, u 8.6 kPa, lower limit 490 kPa; printed 0.99.
    chance = p_conform(margin=509.7 - 490.0, u=8.6)
    assert round(chance, 2) == 0.99


def test_ilac_g8_table_of_specific_risk() -> None:
    # ILAC-G8:09/2019, table 1: guard band r·U with U = 2 u, risk of false acceptance at its edge.
    table = {1.5: 0.0016, 1.0: 0.025, 0.83: 0.05, 0.0: 0.5}
    for guard, at_most in table.items():
        risk = 1.0 - p_conform(margin=guard * 2.0, u=1.0)
        assert risk <= at_most
        assert risk == pytest.approx(at_most, rel=0.2)
    assert 1.0 - p_conform(margin=6.0, u=1.0) < 1e-6  # in print: less than one in a million


def test_few_readings_use_students_t() -> None:
    # 40 CFR 1065.602, table 1: two-sided 95 % critical values of t.
    table = {1: 12.706, 2: 4.303, 3: 3.182, 4: 2.776, 5: 2.571, 6: 2.447, 7: 2.365, 8: 2.306}
    table |= {9: 2.262, 10: 2.228, 15: 2.131, 20: 2.086, 30: 2.042}
    for dof, critical in table.items():
        assert p_conform(margin=critical, u=1.0, dof=float(dof)) == pytest.approx(0.975, abs=3e-5)


def test_40_cfr_1065_mean_of_three_as_a_chance() -> None:
    # 40 CFR 1065.602: 10.60, 11.91, 11.09 have mean 11.20 and standard deviation 0.6619.
    values = np.array([10.60, 11.91, 11.09])
    assert round(float(values.mean()), 2) == 11.20
    assert round(float(values.std(ddof=1)), 4) == 0.6619
    u = float(values.std(ddof=1)) / math.sqrt(3.0)
    expected = 1.0 - stats.ttest_1samp(values, 10.0, alternative="greater").pvalue
    chance = p_conform(margin=float(values.mean()) - 10.0, u=u, dof=2.0)
    assert chance == pytest.approx(float(expected), abs=1e-12)


def test_jcgm_101_four_normals_and_four_rectangles() -> None:
    # JCGM 101:2008, 9.2: sums of four inputs with u = 1; u 2.0, 95 % intervals ±3.92 and ±3.88.
    normals = [Part("scatter", f"{k}", 1.0) for k in range(4)]
    rectangles = [Part("scatter", f"{k}", 1.0, distribution="rectangular") for k in range(4)]
    assert Budget(tuple(rectangles)).u == 2.0
    chances = [monte_carlo(3.92, normals, trials=MANY), monte_carlo(3.88, rectangles, trials=MANY)]
    assert chances == pytest.approx([0.975, 0.975], abs=0.0005)
    # The shorter interval belongs to the rectangles: the normal one would cover more of them.
    assert monte_carlo(3.92, rectangles, trials=MANY) > 0.9755


def test_monte_carlo_of_a_rectangle_and_a_normal_agrees_with_the_closed_form() -> None:
    half, sd, margin = 1.5, 0.1, 1.45
    rectangle = Part(
        "accuracy", "gain", half / math.sqrt(3.0), distribution="rectangular", common=True
    )
    budget = Budget((rectangle, Part("scatter", "scatter", sd)))

    def antiderivative(score: float) -> float:
        return score * PHI(score) + float(stats.norm.pdf(score))

    exact = (
        sd
        / (2 * half)
        * (antiderivative((margin + half) / sd) - antiderivative((margin - half) / sd))
    )
    assert p_conform_of(margin, budget) == pytest.approx(exact, abs=1e-4)
    assert abs(p_conform(margin=margin, u=budget.u) - exact) > 3e-3


@pytest.mark.parametrize(
    ("distribution", "half_width_in_u"),
    [("rectangular", math.sqrt(3.0)), ("triangular", math.sqrt(6.0)), ("u-shaped", math.sqrt(2.0))],
)
def test_bounded_errors_never_reach_beyond_their_half_width(
    distribution: str, half_width_in_u: float
) -> None:
    part = Part("accuracy", "gain", 1.0, distribution=distribution)  # type: ignore[arg-type]
    assert monte_carlo(half_width_in_u, [part]) == 1.0
    assert 0.5 < monte_carlo(half_width_in_u * 0.9, [part]) < 1.0
    assert monte_carlo(0.0, [part]) == pytest.approx(0.5, abs=0.005)


def test_monte_carlo_gives_the_same_chance_every_time() -> None:
    parts = [Part("scatter", "scatter", 0.4, dof=5.0), Part("zero", "zero", 0.3)]
    assert monte_carlo(0.3, parts) == monte_carlo(0.3, parts)


def test_a_worked_point_with_its_limits_of_passing_and_failing() -> None:
    # Worked by hand: 92.1 A, limit 90 A; scatter 0.12 A (9 dof), meter (1 % + 0.5 A)/√3,
    # speed 6 rpm at 0.02 A/rpm.
    meter = (0.01 * 92.1 + 0.5) / math.sqrt(3.0)
    u = math.hypot(0.12, meter, 0.02 * 6.0)
    assert round(meter, 4) == 0.8204
    assert round(u, 4) == 0.8378
    assert round(p_conform(margin=2.1, u=u), 5) == 0.99391
    bar = Bar(guarded=True, confidence=0.95, speeds=1)
    assert round(90.0 + bar.pass_z * u, 3) == 91.378
    assert round(90.0 - bar.fail_z * u, 3) == 88.622


def test_without_doubt_the_chance_is_one_or_nothing() -> None:
    assert [p_conform(margin=m, u=0.0) for m in (-1e-9, 0.0, 1e-9)] == [0.0, 1.0, 1.0]


@pytest.mark.parametrize(
    ("speeds", "k"),
    # Dunnett, J. Am. Stat. Assoc. 50 (1955) 1096-1121, table 1a, one-sided 5 %, unlimited degrees
    # of freedom (values from memory): equally correlated normals with rho = 0.5.
    [(2, 1.92), (3, 2.06), (4, 2.16), (5, 2.23), (6, 2.29), (7, 2.34), (8, 2.38), (9, 2.42)],
)
def test_joint_chance_agrees_with_dunnetts_table(speeds: int, k: float) -> None:
    chance = joint_chance([PHI(k)] * speeds, _equal(speeds, 0.5))
    assert chance == pytest.approx(0.95, abs=0.001)


@pytest.mark.parametrize("speeds", [2, 4, 8, 20])
@pytest.mark.parametrize("rho", [0.2, 0.8, 0.95])
def test_joint_chance_agrees_with_the_one_dimensional_integral(speeds: int, rho: float) -> None:
    # Equal correlation: P = integral of phi(x) Phi((k + sqrt(rho) x)/sqrt(1 - rho))^m dx.
    k = 1.7

    def integrand(x: float) -> float:
        inside = PHI((k + math.sqrt(rho) * x) / math.sqrt(1.0 - rho))
        return float(stats.norm.pdf(x)) * inside**speeds

    exact = integrate.quad(integrand, -9.0, 9.0)[0]
    assert joint_chance([PHI(k)] * speeds, _equal(speeds, rho)) == pytest.approx(exact, abs=5e-4)


def test_joint_chance_agrees_with_a_reference_library_on_unequal_correlations() -> None:
    scores = [2.1, 0.7, 1.4]
    r = [[1.0, 0.9, 0.3], [0.9, 1.0, 0.1], [0.3, 0.1, 1.0]]
    exact = float(stats.multivariate_normal.cdf(scores, mean=[0.0] * 3, cov=r, abseps=1e-7))
    assert joint_chance([PHI(score) for score in scores], r) == pytest.approx(exact, abs=2e-4)


def test_one_common_error_makes_the_worst_speed_the_whole() -> None:
    assert joint_chance([0.97, 0.99, 0.95], _equal(3, 1.0)) == pytest.approx(0.95, abs=1e-4)


def test_independent_chances_multiply() -> None:
    assert joint_chance([0.9, 0.8, 0.7], _equal(3, 0.0)) == pytest.approx(0.504)
    assert joint_chance([0.9], [[1.0]]) == 0.9
    assert joint_chance([0.9, 0.0], _equal(2, 0.5)) == 0.0
    assert joint_chance([1.0, 1.0], _equal(2, 0.5)) == pytest.approx(1.0)


def _equal(count: int, rho: float) -> list[list[float]]:
    return [[1.0 if i == j else rho for j in range(count)] for i in range(count)]
