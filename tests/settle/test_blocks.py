"""Means, scatter, autocorrelation and the display step, against certified and printed values."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from statsmodels.tsa.stattools import acf

from acquire.settle.blocks import BLOCK_S, BlockSeries, RunningMean
from acquire.settle.display_step import scatter_floor, step_left, step_u
from acquire.settle.equivalence import lag_one


def alternating(middle: float, low: float, high: float, pairs: int) -> list[float]:
    return [middle] + [low, high] * pairs


NUMACC = [
    ([10000001.0, 10000003.0, 10000002.0], 10000002.0, 1.0, -0.5),
    (alternating(1.2, 1.1, 1.3, 500), 1.2, 0.1, -0.999),
    (alternating(1000000.2, 1000000.1, 1000000.3, 500), 1000000.2, 0.1, -0.999),
    (alternating(10000000.2, 10000000.1, 10000000.3, 500), 10000000.2, 0.1, -0.999),
]
"""NIST StRD NumAcc1 to 4: data; certified mean, standard deviation, lag-1 correlation."""


def digits(value: float, certified: float) -> float:
    """Log relative error: how many digits agree."""
    off = abs(value - certified) / abs(certified)
    return 15.0 if off == 0.0 else min(-math.log10(off), 15.0)


@pytest.mark.parametrize(("values", "mean", "sd", "correlation"), NUMACC)
def test_running_mean_keeps_eight_digits_of_certified_data(
    values: list[float], mean: float, sd: float, correlation: float
) -> None:
    running = RunningMean()
    for value in values:
        running.add(value)
    assert running.count == len(values)
    assert digits(running.mean, mean) >= 14
    assert digits(running.sd, sd) >= 8
    assert lag_one([v - running.mean for v in values]) == pytest.approx(correlation, abs=2e-6)


def test_mean_and_scatter_of_three_readings_as_in_40_cfr_1065_602() -> None:
    running = RunningMean()
    for value in (10.60, 11.91, 11.09):
        running.add(value)
    assert running.mean == pytest.approx(11.20, abs=5e-5)
    assert running.sd == pytest.approx(0.6619, abs=5e-5)


def test_lag_one_correlation_agrees_with_statsmodels() -> None:
    rng = np.random.default_rng(3)
    x = np.convolve(rng.standard_normal(200), [1.0, 0.6, 0.3])[:200]
    off = x - x.mean()
    assert lag_one(off.tolist()) == pytest.approx(float(acf(x, nlags=1)[1]), abs=1e-12)


def test_a_gap_is_an_empty_block() -> None:
    series = BlockSeries(10.0)
    series.add(1.0)
    series.close()
    series.close()
    series.add(3.0)
    series.add(5.0)
    series.close()
    assert [b.count for b in series.blocks] == [1, 0, 2]
    assert series.blocks[-1].mean == 4.0
    assert series.blocks[-1].sd == pytest.approx(math.sqrt(2.0))
    assert series.end_s() == 10.0 + 4 * BLOCK_S


STEP_U = [(0.0, 0.2887), (0.1, 0.237), (0.2, 0.131), (0.3, 0.049), (0.4, 0.0123), (0.5, 0.0021)]
"""Noise over display step, standard uncertainty over display step: the formula worked by hand."""


@pytest.mark.parametrize(("noise", "u"), STEP_U)
def test_uncertainty_from_the_display_step_is_the_formulas_and_never_too_small(
    noise: float, u: float
) -> None:
    assert step_u(noise, 1.0) == pytest.approx(u, rel=0.02)
    assert step_u(noise, 1.0) >= exact_rounding_error(noise) * 0.999


def exact_rounding_error(noise: float) -> float:
    """RMS over all offsets of the mean error that rounding leaves, noise averaged out."""
    offsets = np.linspace(-0.5, 0.5, 401)[:-1]
    total = np.zeros_like(offsets)
    for k in range(-4, 5):
        low, high = (k - 0.5 - offsets), (k + 0.5 - offsets)
        if noise == 0.0:
            share = ((low <= 0) & (high > 0)).astype(float)
        else:
            root = math.sqrt(2.0) * noise
            share = np.array(
                [
                    0.5 * (math.erf(h / root) - math.erf(a / root))
                    for a, h in zip(low, high, strict=True)
                ]
            )
        total += k * share
    return float(np.sqrt(np.mean((total - offsets) ** 2)))


def test_without_a_display_step_nothing_is_added() -> None:
    assert step_left(0.1, 0.0) == 0.0
    assert scatter_floor(0.1, 0.0, 10.0) == 0.0


def test_a_noisy_fast_reading_may_average_below_its_display_step() -> None:
    quiet = scatter_floor(0.0, 1.0, 50.0)
    noisy = scatter_floor(1.0, 1.0, 50.0)
    assert quiet == pytest.approx((1.0 + 1.0 / 50.0) / 12.0)
    assert noisy == pytest.approx(1.0 / 50.0 / 12.0)


def test_running_mean_of_one_value_has_no_scatter() -> None:
    running = RunningMean()
    running.add(random.Random(1).random())
    assert running.sd == 0.0
