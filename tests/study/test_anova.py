"""The analysis of variance against NIST's certified values and against reference libraries."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from importlib.resources import files

import numpy as np
import pytest

from acquire.study.anova import Anova, anova, scatters_more_than

SETS = ["AtmWtAg", "SiRstv", *(f"SmLs0{number}" for number in range(1, 10))]
LEFT_IN_DOUBLES = {"SmLs07": 3.9, "SmLs08": 3.9, "SmLs09": 3.9}
"""Digits that reading the results as doubles leaves where 13 digits are constant; else 9.9."""


@dataclass(frozen=True)
class Certified:
    """A set of the NIST Statistical Reference Datasets, one-way analysis of variance."""

    groups: list[list[str]]
    """The results as printed."""
    dof_between: int
    between_square: float
    dof_within: int
    within_square: float
    f: float


def certified(name: str) -> Certified:
    """Read a set from the copy that scipy ships for its own tests."""
    path = files("scipy.stats") / "tests" / "data" / "nist_anova" / f"{name}.dat"
    if not path.is_file():
        pytest.skip("this scipy came without the NIST files in its tests/data/nist_anova")
    lines = path.read_text(encoding="ascii").splitlines()
    between = next(line.split() for line in lines if re.match(r"Between \w+", line))
    within = next(line.split() for line in lines if re.match(r"Within \w+", line))
    start = max(k for k, line in enumerate(lines) if line.startswith("Data:")) + 1
    groups: dict[str, list[str]] = {}
    for line in lines[start:]:
        if line.strip():
            group, result = line.split()
            groups.setdefault(group, []).append(result)
    return Certified(
        list(groups.values()),
        int(between[2]),
        float(between[4]),
        int(within[2]),
        float(within[4]),
        float(between[5]),
    )


def digits(found: float | None, expected: float) -> float:
    """How many digits agree (log relative error, as NIST counts them), at most 15."""
    assert found is not None
    return 15.0 if found == expected else min(-math.log10(abs(found - expected) / expected), 15.0)


def agreement(found: Anova, expected: Certified) -> dict[str, float]:
    assert (found.dof_between, found.dof_within) == (expected.dof_between, expected.dof_within)
    return {
        "between": digits(found.between_square, expected.between_square),
        "within": digits(found.within_square, expected.within_square),
        "s_r": digits(found.repeatability, math.sqrt(expected.within_square)),
        "F": digits(found.f, expected.f),
    }


@pytest.mark.parametrize("name", SETS)
def test_the_printed_results_give_the_certified_values_to_thirteen_digits(name: str) -> None:
    """NIST StRD certifies 15 digits; printed results as exact fractions lose none on the way."""
    expected = certified(name)
    found = anova([[Fraction(text) for text in group] for group in expected.groups])
    reached = agreement(found, expected)
    assert min(reached.values()) >= 13.0, reached


@pytest.mark.parametrize("name", SETS)
def test_doubles_give_the_certified_values_as_far_as_they_hold_the_results(name: str) -> None:
    """NIST StRD. A double keeps about 16 digits; of results with 13 constant ones that leaves four
    of the squares, with 7 or 8 constant ones ten, whatever the arithmetic (it is exact here)."""
    expected = certified(name)
    found = anova([[float(text) for text in group] for group in expected.groups])
    reached = agreement(found, expected)
    assert min(reached.values()) >= LEFT_IN_DOUBLES.get(name, 9.9), reached
    assert min(reached["F"], reached["within"], reached["s_r"]) >= 4.0, reached


def five_of(mean: float, deviation: float) -> list[float]:
    """Five values with exactly this mean and standard deviation."""
    shape = (-2.0, -1.0, 0.0, 1.0, 2.0)
    return [mean + deviation * step / math.sqrt(2.5) for step in shape]


def test_the_voltage_standard_of_the_gum_varies_from_day_to_day_by_43_microvolt() -> None:
    """JCGM 100:2008 (GUM), H.5, table H.9: daily means and standard deviations of five
    observations of a voltage standard; F(9, 40) = 2.25 (from rounded figures), s_B = 43 µV."""
    micro = [172, 116, 13, 144, 106, 31, 60, 125, 163, 41]
    deviations = [60, 77, 111, 101, 67, 93, 80, 73, 88, 86]
    days = [
        five_of(10.0 + 1e-6 * mean, 1e-6 * deviation)
        for mean, deviation in zip(micro, deviations, strict=True)
    ]
    found = anova(days)
    assert found.mean == pytest.approx(10.000097, abs=5e-7)
    assert found.repeatability == pytest.approx(85e-6, abs=0.5e-6)
    assert found.between == pytest.approx(43e-6, abs=0.5e-6)
    assert found.f == pytest.approx(2.25, abs=0.02)
    assert (found.dof_between, found.dof_within) == (9, 40)
    assert found.p is not None
    # the GUM, from memory: critical values F_0.95(9, 40) = 2.12 and F_0.975(9, 40) = 2.45
    assert 0.025 < found.p < 0.05


def test_f_and_p_of_groups_of_unequal_size_are_those_of_scipy() -> None:
    from scipy.stats import f_oneway

    groups = [[52.1, 52.0, 52.3], [51.7, 51.9], [52.4, 52.2, 52.5, 52.6, 52.1], [52.0]]
    found, peer = anova(groups), f_oneway(*groups)
    assert found.f == pytest.approx(float(peer.statistic), rel=1e-12)
    assert found.p == pytest.approx(float(peer.pvalue), rel=1e-10)


def test_the_mean_squares_of_unequal_groups_are_those_of_statsmodels() -> None:
    from statsmodels.regression.linear_model import OLS

    groups = [[52.1, 52.0, 52.3], [51.7, 51.9], [52.4, 52.2, 52.5, 52.6, 52.1]]
    found = anova(groups)
    results = np.concatenate([np.array(group) for group in groups])
    member = np.repeat(np.arange(3), [len(group) for group in groups])
    fit = OLS(results, (member[:, None] == np.arange(3)).astype(float)).fit()
    assert found.within_square == pytest.approx(float(fit.mse_resid), rel=1e-9)
    assert found.between_square == pytest.approx(float(fit.mse_model), rel=1e-9)


@pytest.mark.parametrize("sizes", [(3, 3, 3), (1, 2, 7), (5, 1), (2, 2, 2, 9)])
def test_s_l_is_right_on_average_whatever_the_sizes_of_the_groups(sizes: tuple[int, ...]) -> None:
    """For results of covariance V the mean of a quadratic form y'Ay is tr(AV) (Searle, Linear
    Models, 1971); with V of the random model the two variances must come out as put in."""
    member = np.repeat(np.arange(len(sizes)), sizes)
    total, groups = len(member), len(sizes)
    same = (member[:, None] == member[None, :]).astype(float)
    into_means = same / same.sum(axis=1, keepdims=True)
    into_mean = np.full((total, total), 1.0 / total)
    repeat_variance, between_variance = 0.09, 0.04
    covariance = repeat_variance * np.eye(total) + between_variance * same
    between_square = np.trace((into_means - into_mean) @ covariance) / (groups - 1)
    within_square = np.trace((np.eye(total) - into_means) @ covariance) / (total - groups)
    size = anova([[float(k) for k in range(n)] for n in sizes]).typical_size
    found = Anova(groups, total, 0.0, between_square, within_square, size)
    assert found.repeatability == pytest.approx(0.3, rel=1e-12)
    assert found.between == pytest.approx(0.2, rel=1e-9)
    assert found.reproducibility == pytest.approx(math.sqrt(0.13), rel=1e-9)


def test_groups_closer_than_their_scatter_have_no_variance_of_their_own() -> None:
    found = anova([[50.0, 51.0], [51.0, 50.0]])
    assert found.between == 0.0
    assert found.reproducibility == found.repeatability
    assert found.dof_reproducibility == 2.0


def test_what_the_groups_do_not_reveal_is_not_made_up() -> None:
    one_group = anova([[50.0, 51.0, 52.0]])
    assert one_group.repeatability == pytest.approx(1.0)
    assert (one_group.between, one_group.reproducibility, one_group.f, one_group.p) == (None,) * 4
    once_each = anova([[50.0], [51.0], [52.0]])
    assert (once_each.repeatability, once_each.f, once_each.p) == (None, None, None)
    assert once_each.between_square == pytest.approx(1.0)
    assert anova([[50.0, 50.0], [51.0, 51.0]]).f is None
    with pytest.raises(ValueError, match="no result"):
        anova([[], []])


def test_a_spread_is_held_against_the_stated_one_by_chi_squared() -> None:
    """NIST/SEMATECH e-Handbook 1.3.5.8, from memory: 100 gear diameters, s = 0.006278 against 0.1:
    T = 99 · (s/0.1)² = 0.3903; chi-squared critical value of 99 degrees, upper 5 %: 123.225."""
    assert scatters_more_than(0.006278, 0.1, 99) == pytest.approx(1.0)
    at_limit = 0.1 * math.sqrt(123.225 / 99)
    assert scatters_more_than(at_limit, 0.1, 99) == pytest.approx(0.05, abs=1e-5)
