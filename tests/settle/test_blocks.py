"""Means, scatter, autocorrelation and the display step, against certified and printed values."""

from __future__ import annotations

import math
import random

import numpy as np
import numpy.typing as npt
import pytest
from statsmodels.tsa.stattools import acf

from acquire.settle.blocks import BLOCK_S, BlockSeries, RunningMean
from acquire.settle.display_step import scatter_floor, step_left, step_u
from acquire.settle.equivalence import lag_one

Floats = npt.NDArray[np.float64]


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


def shown(noise: float, offsets: Floats) -> tuple[Floats, Floats]:
    """Mean and standard deviation a display of step 1 shows of values at `offsets`, exactly."""
    steps = np.arange(-6, 7)
    root = math.sqrt(2.0) * noise
    edges = (np.arange(-7, 7) + 0.5)[:, None] - offsets[None, :]
    below = np.vectorize(math.erf)(edges / root) / 2 + 0.5
    share = np.diff(below, axis=0)
    mean = steps @ share
    return mean, np.sqrt(np.maximum(steps**2 @ share - mean**2, 0.0))


def test_the_display_step_s_doubt_covers_what_rounding_does_at_every_scatter_shown() -> None:
    """Values anywhere on the step, noise of 0.02 to 1 step, each as likely in its logarithm."""
    offsets = np.linspace(-0.5, 0.5, 201)[:-1]
    pairs = [shown(noise, offsets) for noise in np.geomspace(0.02, 1.0, 60)]
    scatter = np.concatenate([sd for _, sd in pairs])
    error = np.concatenate([mean - offsets for mean, _ in pairs])
    for low in np.arange(0.0, 1.0, 0.05):
        among = (scatter >= low) & (scatter < low + 0.05)
        rms = math.sqrt(float(np.mean(error[among] ** 2)))
        told = math.sqrt(float(np.mean([step_u(sd, 1.0) ** 2 for sd in scatter[among]])))
        assert rms <= told + 0.03, f"too small a doubt where {low:.2f} steps of scatter are shown"
        assert told <= 1.5 * rms + 0.03, f"too wide a doubt where {low:.2f} steps are shown"


def test_a_still_display_leaves_a_rectangle_of_one_step() -> None:
    """JCGM 100:2008, F.2.2.1: a step of 1 leaves 1 / sqrt(12)."""
    assert step_u(0.0, 1.0) == pytest.approx(0.29, abs=0.002)
    assert step_u(0.5, 1.0) == 0.0


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
