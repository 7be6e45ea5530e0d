"""Budgets of doubt against the worked examples of the GUM and a reference library.

Figures of the GUM (JCGM 100:2008) are from memory of its printed tables.
"""

from __future__ import annotations

import math
import statistics

import GTC
import pytest
from scipy import stats

from acquire.judge.budget import Budget, Part, correlation, covariance, welch_satterthwaite

# JCGM 100:2008, H.1: end gauge of nominal 50 mm, lengths in nm, temperatures in °C.
LENGTH_NM = 50_000_623.0
ALPHA = 11.5e-6
MEAN_OFF_C = -0.1
END_GAUGE = Budget(
    (
        Part("stated", "the standard", 25.0, dof=18.0),
        Part("scatter", "repeated observations", 5.8, dof=24.0),
        Part("accuracy", "random effects of the comparator", 3.9, dof=5.0),
        Part("zero", "systematic effects of the comparator", 6.7, dof=8.0),
        Part(
            "slope",
            "difference in expansion coefficients",
            1e-6 / math.sqrt(3.0),
            sensitivity=-LENGTH_NM * MEAN_OFF_C,
            distribution="rectangular",
            dof=50.0,
        ),
        Part(
            "heat",
            "difference in temperatures",
            0.05 / math.sqrt(3.0),
            sensitivity=-LENGTH_NM * ALPHA,
            distribution="rectangular",
            dof=2.0,
        ),
    )
)


def test_gum_h1_end_gauge_has_32_nm_and_16_degrees_of_freedom() -> None:
    assert round(END_GAUGE.u) == 32
    assert math.floor(END_GAUGE.dof) == 16
    expanded = stats.t.ppf(0.995, math.floor(END_GAUGE.dof)) * END_GAUGE.u
    assert round(expanded) == pytest.approx(93, abs=1)  # 93 nm in print, from u rounded to 32
    assert round(stats.t.ppf(0.995, 16) * 32) == 93


def test_gum_h1_agrees_with_an_independent_uncertainty_calculator() -> None:
    difference = GTC.ureal(215, 5.8, 24) + GTC.ureal(0, 3.9, 5) + GTC.ureal(0, 6.7, 8)
    alpha = GTC.ureal(ALPHA, GTC.type_b.uniform(2e-6))
    delta_alpha = GTC.ureal(0, GTC.type_b.uniform(1e-6), 50)
    delta_c = GTC.ureal(0, GTC.type_b.uniform(0.05), 2)
    off_c = GTC.ureal(MEAN_OFF_C, 0.2) + GTC.ureal(0, GTC.type_b.arcsine(0.5))
    standard = GTC.ureal(LENGTH_NM, 25, 18)
    length = standard + difference - standard * (delta_alpha * off_c + alpha * delta_c)
    assert length.u == pytest.approx(END_GAUGE.u, rel=1e-9)
    assert length.df == pytest.approx(END_GAUGE.dof, rel=1e-9)


def test_gum_g4_welch_satterthwaite_example() -> None:
    # JCGM 100:2008, G.4.1: components 0.25, 0.57 and 0.82 % from 10, 5 and 15 readings.
    parts = [(0.25, 9.0), (0.57, 4.0), (0.82, 14.0)]
    assert round(math.hypot(*(u for u, _ in parts)), 2) == 1.03
    assert round(welch_satterthwaite(parts), 1) == 19.0


def test_gum_4_4_3_twenty_temperatures_as_a_part() -> None:
    # JCGM 100:2008, 4.4.3 and table 1, in °C.
    temperatures = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07,
        100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
    ]  # fmt: skip
    sd = statistics.stdev(temperatures)
    budget = Budget((Part("scatter", "scatter", sd / math.sqrt(20.0), dof=19.0),))
    assert round(sd, 3) == 1.489
    assert round(budget.u, 3) == 0.333
    assert budget.dof == pytest.approx(19.0)


def test_gum_h2_results_share_correlated_inputs() -> None:
    # JCGM 100:2008, H.2, tables H.2 to H.4: resistance, reactance and impedance from five
    # simultaneous readings of voltage, current and phase. The correlated inputs are written as
    # three common parts (a triangular root of their covariance).
    volts = [5.007, 4.994, 5.005, 4.990, 4.999]
    milliamps = [19.663, 19.639, 19.640, 19.685, 19.678]
    phases = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]
    inputs = [volts, [amps / 1000.0 for amps in milliamps], phases]
    means = [statistics.fmean(column) for column in inputs]
    root = _root([[statistics.covariance(a, b) / 5.0 for b in inputs] for a in inputs])
    v, i, phase = means
    jacobian = [
        [math.cos(phase) / i, -v * math.cos(phase) / i**2, -v * math.sin(phase) / i],
        [math.sin(phase) / i, -v * math.sin(phase) / i**2, v * math.cos(phase) / i],
        [1.0 / i, -v / i**2, 0.0],
    ]
    budgets = [
        Budget(tuple(_common(k, sum(line[j] * root[j][k] for j in range(3))) for k in range(3)))
        for line in jacobian
    ]
    assert [round(budget.u, 3) for budget in budgets] == [0.071, 0.296, 0.236]
    # In print 0.295 for the reactance, from rounded inputs.
    r = correlation(budgets)
    assert (round(r[0][1], 3), round(r[0][2], 3), round(r[1][2], 3)) == (-0.588, -0.485, 0.993)


def _common(k: int, amps: float) -> Part:
    return Part("accuracy", f"input {k}", 1.0, sensitivity=amps, common=True)


def _root(matrix: list[list[float]]) -> list[list[float]]:
    """Cholesky root of a 3 by 3 matrix."""
    root = [[0.0] * 3 for _ in range(3)]
    for row in range(3):
        for column in range(row + 1):
            rest = matrix[row][column] - sum(root[row][k] * root[column][k] for k in range(column))
            root[row][column] = math.sqrt(rest) if row == column else rest / root[column][column]
    return root


def test_a_meter_gain_ties_two_steps_together_and_scatter_does_not() -> None:
    def step(amps: float, scatter: float) -> Budget:
        return Budget(
            (
                Part("accuracy", "the ammeter's accuracy", 0.01 * amps, common=True),
                Part("scatter", "the scatter of the reading", scatter),
            )
        )

    matrix = covariance([step(45.0, 0.3), step(90.0, 0.4)])
    gain = GTC.ureal(1.0, 0.01)
    low, high = gain * 45.0 + GTC.ureal(0, 0.3), gain * 90.0 + GTC.ureal(0, 0.4)
    assert matrix[0][1] == pytest.approx(GTC.get_covariance(low, high))
    assert matrix[0][0] == pytest.approx(low.u**2)
    assert matrix[1][1] == pytest.approx(high.u**2)


def test_the_biggest_part_is_named_with_its_share_of_the_variance() -> None:
    budget = Budget(
        (Part("accuracy", "the ammeter's accuracy", 4.0), Part("scatter", "the scatter", 1.0))
    )
    assert budget.words() == "the ammeter's accuracy is 94 % of the doubt"
    assert math.fsum(budget.share_percent(part) for part in budget.parts) == pytest.approx(100.0)


@pytest.mark.parametrize(("scatter", "dominates"), [(1.0, True), (1.05, False)])
def test_a_rectangle_dominates_above_70_percent_of_the_whole(
    scatter: float, dominates: bool
) -> None:
    rectangle = Part("accuracy", "the ammeter's accuracy", 1.0, distribution="rectangular")
    budget = Budget((rectangle, Part("scatter", "the scatter", scatter)))
    assert (budget.dominating_rectangle is not None) is (1.0 / math.hypot(1.0, scatter) > 0.7)
    assert (budget.dominating_rectangle is rectangle) is dominates


def test_a_budget_reads_back_as_it_was_written() -> None:
    written = END_GAUGE.to_data()
    assert Budget.from_data(written) == END_GAUGE
    assert Budget.from_data(Budget((Part("zero", "z", 0.1),)).to_data()).dof == math.inf


def test_an_empty_budget_has_no_doubt_and_no_biggest_part() -> None:
    assert Budget(()).u == 0.0
    assert Budget(()).biggest is None
    assert Budget(()).dof == math.inf
    assert correlation([Budget(()), END_GAUGE])[0] == [1.0, 0.0]
