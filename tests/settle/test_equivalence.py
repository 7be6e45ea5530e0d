"""The drift test: check values, how often it is right, and what it must not depend on."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import lfilter

from acquire.settle.blocks import Block
from acquire.settle.equivalence import Look, look_at
from acquire.settle.student import student_quantile
from acquire.settle.tolerance import Tolerance
from acquire.sweep.channel_plans import channel_plans
from profiles.catalogue import load_rig
from profiles.method import Method
from tests.benchmarks.settling_methods import Track, rhinehart_ratio, share_of_steady, slope_t_test
from tests.settle.one_channel import OneChannel

UNIT = Tolerance(1.0)


def look_of(groups: list[float]) -> Look:
    """A 10 s window whose ten groups of 1 s have these means."""
    blocks = [Block(k, 1, groups[k // 2], 0.0) for k in range(20)]
    look = look_at(blocks, 20, UNIT, 10.0)
    assert look is not None
    return look


def test_slope_and_doubt_are_those_of_least_squares() -> None:
    rng = np.random.default_rng(1)
    y = 3.0 + 0.04 * np.arange(10) + 0.2 * rng.standard_normal(10)
    (slope, _), covariance = np.polyfit(np.arange(10.0), y, 1, cov=True)
    look = look_of(y.tolist())
    assert look.drift == pytest.approx(10.0 * slope, rel=1e-9)
    doubt = 10.0 * student_quantile(0.95, 8) * math.sqrt(covariance[0, 0])
    assert look.half_width == pytest.approx(doubt, rel=1e-9)
    assert look.end_value == pytest.approx(np.polyval(np.polyfit(np.arange(10.0), y, 1), 9.5))
    residual_sd = math.sqrt(covariance[0, 0] * 82.5)
    assert look.half_width / residual_sd == pytest.approx(2.0473, abs=5e-5)


DECLARED = [(0.2, 0.0, 0.987), (0.3, 0.0, 0.736), (0.5, 0.0, 0.144), (0.2, 1.0, 0.050)]
"""Scatter of a group and true drift, both over the tolerance; share of looks that pass: own
simulation of Schuirmann's two one-sided tests, 200 000 runs."""


@pytest.mark.parametrize(("scatter", "drift", "share"), DECLARED)
def test_the_test_passes_as_often_as_two_one_sided_tests_do(
    scatter: float, drift: float, share: float
) -> None:
    rng, n = random.Random(2), 2000
    passed = 0
    for _ in range(n):
        passed += look_of([drift * k / 10 + rng.gauss(0.0, scatter) for k in range(10)]).passes
    assert abs(passed / n - share) <= 4.0 * math.sqrt(share * (1 - share) / n) + 0.002


def test_noise_makes_a_null_test_say_steady_and_this_one_wait() -> None:
    """Noise as large as the tolerance, drift twice as large: the t-test passes 64 % of looks."""
    rng = np.random.default_rng(3)
    windows = 0.2 * np.arange(10) + rng.standard_normal((2000, 10))
    passed = 0
    for window in windows:
        track = Track(1.0, 1, window, window, window[None, :])
        passed += slope_t_test(track) is not None
    assert passed / 2000 == pytest.approx(0.640, abs=0.045)
    assert not any(look_of(window.tolist()).passes for window in windows)


@settings(max_examples=25)
@given(
    st.lists(st.integers(-300, 300), min_size=240, max_size=240),
    st.integers(-5, 5),
    st.integers(-3000, 3000),
    st.sampled_from([0.0, 64.0, 4096.0]),
)
def test_looks_do_not_depend_on_unit_of_measure_zero_or_clock(
    steps: list[int], power: int, offset: int, later_s: float
) -> None:
    scale = 2.0**power
    plain = OneChannel(Tolerance(20.0), began_s=0.0)
    moved = OneChannel(Tolerance(20.0 * scale), began_s=later_s)
    for k, value in enumerate(steps):
        t_s = (k + 1) / 8
        one = plain.push(t_s, float(value))
        other = moved.push(later_s + t_s, (value + offset) * scale)
        assert (one is None) == (other is None)
        if one is not None and other is not None:
            assert other.drift == pytest.approx(one.drift * scale, rel=1e-6, abs=1e-6 * scale)
            assert other.half_width == pytest.approx(one.half_width * scale, rel=1e-6)
            assert other.mean == pytest.approx((one.mean + offset) * scale, rel=1e-9, abs=1e-6)


def first_settled(test: OneChannel, amps: list[float], interval_s: float) -> float | None:
    for k, value in enumerate(amps):
        look = test.push((k + 1) * interval_s, value)
        if look is not None and look.settled:
            return look.t_s
    return None


def test_five_looks_in_a_row_are_needed_and_ten_where_warming_must_be_over() -> None:
    steady = [50.0 + 0.01 * (k % 3) for k in range(400)]
    assert first_settled(OneChannel(UNIT, began_s=0.0), steady, 0.1) == 14.0
    assert first_settled(OneChannel(UNIT, began_s=0.0, thermal=True), steady, 0.1) == 19.0


def test_a_restart_forgets_everything() -> None:
    test = OneChannel(UNIT, began_s=0.0)
    steady = [50.0 + 0.01 * (k % 3) for k in range(139)]
    assert first_settled(test, steady, 0.1) is None
    test.restart(13.9)
    later = [(13.9 + (k + 1) * 0.1, v) for k, v in enumerate(steady)]
    looks = [look for t_s, v in later if (look := test.push(t_s, v)) is not None]
    assert not any(look.settled for look in looks)
    assert looks[0].t_s == pytest.approx(23.9)


@pytest.mark.parametrize("interval_s", [1.0, 2.0, 4.0, 7.0])
def test_readings_seconds_apart_settle_in_a_longer_window(interval_s: float) -> None:
    rng = random.Random(7)
    amps = [50.0 + rng.gauss(0.0, 0.1) for _ in range(100)]
    settled_s = first_settled(OneChannel(UNIT, began_s=0.0), amps, interval_s)
    assert settled_s is not None
    assert settled_s <= 60.0 * max(interval_s, 1.0)


def test_a_window_with_too_many_gaps_is_no_window() -> None:
    blocks = [Block(k, int(k >= 6), 5.0, 0.0) for k in range(20)]
    assert look_at(blocks, 20, UNIT, 10.0) is None
    blocks = [Block(k, int(k >= 4), 5.0, 0.0) for k in range(20)]
    assert look_at(blocks, 20, UNIT, 10.0) is not None


STATES = [
    ([0.0] * 10, "still"),
    ([0.3 * k for k in range(10)], "rising"),
    ([-0.3 * k for k in range(10)], "falling"),
    ([2.0 * math.sin(k * 2 * math.pi / 7) for k in range(10)], "hunting"),
    ([1.0, -1.0, 1.1, -0.9, 1.0, -1.0, 0.9, -1.1, 1.0, -1.0], "noisy"),
]


@pytest.mark.parametrize(("groups", "state"), STATES)
def test_the_state_has_a_word(groups: list[float], state: str) -> None:
    assert look_of(groups).state == state


def covered(rate_hz: int, window_blocks: int, linked_s: float, runs: int) -> tuple[float, float]:
    """Share of 95 % intervals that hold the true mean: batch means, and s / sqrt(n)."""
    rng = np.random.default_rng(8)
    per_block = rate_hz // 2
    n = per_block * window_blocks
    phi = math.exp(-1.0 / (rate_hz * linked_s))
    ours = naive = 0
    for _ in range(runs):
        shocks = rng.standard_normal(n + 50 * per_block) * math.sqrt(1 - phi * phi)
        x = 0.8 * lfilter([1.0], [1.0, -phi], shocks)[-n:] + 0.6 * rng.standard_normal(n)
        rows = x.reshape(window_blocks, per_block)
        blocks = [
            Block(k, per_block, float(r.mean()), float(r.std(ddof=1))) for k, r in enumerate(rows)
        ]
        look = look_at(blocks, window_blocks, UNIT, 0.0)
        assert look is not None
        ours += abs(look.mean) <= student_quantile(0.975, look.dof) * look.u_mean
        naive += abs(look.mean) <= 1.96 * float(x.std(ddof=1)) / math.sqrt(n)
    return ours / runs, naive / runs


def test_the_means_interval_holds_the_truth_where_the_naive_one_does_not() -> None:
    """Own simulation, AR(1) with 64 % of the variance: naive .87 at 10 Hz and .1 s, .39 at 1 s."""
    short_ours, short_naive = covered(10, 20, 0.1, 600)
    long_ours, long_naive = covered(10, 20, 1.0, 600)
    assert short_ours == pytest.approx(0.95, abs=0.035)
    assert short_naive == pytest.approx(0.87, abs=0.05)
    assert long_naive == pytest.approx(0.39, abs=0.07)
    assert long_ours > 0.72


R_POINTS = [(1, 0.75), (5, 0.81), (50, 1.00), (95, 1.31), (99, 1.49)]
"""Percent points of the R statistic, filters .1, .05, .05, steady white noise: own simulation,
2 million readings; Rhinehart (American Control Conference, 2013) accepts below 0.8 and rejects
above 1.5 (from memory)."""


def test_the_r_statistic_of_white_noise_has_its_critical_values() -> None:
    rng = np.random.default_rng(9)
    ratio = rhinehart_ratio(rng.standard_normal(400_000), 0.1, 0.05, 0.05)[1000:]
    for percent, value in R_POINTS:
        assert float(np.percentile(ratio, percent)) == pytest.approx(value, abs=0.02)


def test_linked_noise_makes_the_r_statistic_useless() -> None:
    """AR(1) of .8: mean R 2.86 by own simulation; the white-noise limit is 1.31."""
    rng = np.random.default_rng(10)
    x = lfilter([1.0], [1.0, -0.8], rng.standard_normal(200_000))
    ratio = rhinehart_ratio(np.asarray(x), 0.1, 0.05, 0.05)[1000:]
    assert float(ratio.mean()) > 2.5


def test_kelly_and_hedengrens_share_is_near_one_for_a_steady_window() -> None:
    rng = np.random.default_rng(11)
    assert share_of_steady(rng.standard_normal(200), 2.0) > 0.9
    assert share_of_steady(np.full(50, 3.0), 2.0) == 1.0


def test_tolerances_are_a_share_of_the_reading_with_a_floor_and_never_below_the_display() -> None:
    """By the usual method: 0.5 % and 0.1 A, 0.3 % and 5 rpm, 0.3 % and 0.05 V."""
    rig = load_rig("simulated").profile
    method = Method.model_validate({"title": "usual", "sweep": {}})
    plans = channel_plans(rig, method, speed_source="shaft_rpm", ratio=1.0)
    amps, rpm, volts = (replace(plans[n], resolution=0.1) for n in ("amps", "shaft_rpm", "volts"))
    assert amps.tolerance(90.0) == pytest.approx(0.45)
    assert amps.tolerance(-90.0) == pytest.approx(0.45)
    assert amps.tolerance(5.0) == pytest.approx(0.1)
    assert replace(amps, resolution=1.0).tolerance(30.0) == pytest.approx(0.25)
    assert rpm.tolerance(6000.0) == pytest.approx(18.0)
    assert rpm.tolerance(1000.0) == pytest.approx(5.0)
    assert volts.tolerance(13.5) == pytest.approx(0.05)
    assert volts.tolerance(28.0) == pytest.approx(0.084)
