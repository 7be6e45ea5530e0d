"""The spike guard, bursts of low readings, and meters slower than they are read."""

from __future__ import annotations

import random

from hypothesis import given
from hypothesis import strategies as st

from acquire.settle.channel_watch import ChannelWatch
from acquire.settle.repeats import UpdateWatch
from acquire.settle.spikes import SpikeGuard
from acquire.settle.tolerance import ChannelPlan

AMPS = ChannelPlan(0.005, 0.1, 0.01)


def quiet(n: int, seed: int = 1, level: float = 50.0) -> list[float]:
    rng = random.Random(seed)
    return [level + rng.gauss(0.0, 0.05) for _ in range(n)]


def test_a_single_wild_reading_is_left_out_and_counted() -> None:
    guard = SpikeGuard(0.01)
    kept = [v for v in [*quiet(20), 70.0, *quiet(20, 2), 20.0, *quiet(5, 3)] if guard.passes(v)]
    assert 70.0 not in kept
    assert 20.0 not in kept
    assert 2 <= guard.rejected <= 4


def test_a_real_step_passes_from_its_third_reading_on() -> None:
    guard = SpikeGuard(0.01)
    for value in quiet(20):
        guard.passes(value)
    assert [guard.passes(v) for v in quiet(5, 2, level=60.0)] == [False, False, True, True, True]


@given(
    st.lists(st.integers(-500, 500), min_size=10, max_size=60),
    st.integers(-4, 4),
    st.integers(-1000, 1000),
)
def test_the_guard_is_the_same_in_any_unit_of_measure(
    steps: list[int], power: int, offset: int
) -> None:
    scale = 2.0**power
    plain, scaled = SpikeGuard(1.0), SpikeGuard(scale)
    assert [plain.passes(float(v)) for v in steps] == [
        scaled.passes((v + offset) * scale) for v in steps
    ]


def watched(amps: list[float], rate_hz: float) -> ChannelWatch:
    watch = ChannelWatch(AMPS, began_s=0.0, horizon_s=10.0)
    for k, value in enumerate(amps):
        watch.push((k + 1) / rate_hz, value)
    watch.close_until((len(amps) + 1) / rate_hz)
    return watch


def burst_signal(rate_hz: int) -> list[float]:
    """30 s at 50 A, 0.3 s at 42 A every 4 s."""
    values = quiet(30 * rate_hz)
    return [
        v - 8.0 if k / rate_hz > 5.0 and (k / rate_hz) % 4.0 < 0.3 else v
        for k, v in enumerate(values)
    ]


def test_bursts_of_low_readings_are_flagged_and_kept_out_of_the_value() -> None:
    for rate_hz in (10, 50, 200):
        signal = burst_signal(rate_hz)
        watch = watched(signal, rate_hz)
        watch.test(30.0)
        assert watch.unsteady
        assert sum(signal) / len(signal) < 49.6
        look = watch.report("no", 30.0)
        assert abs(look.mean - 50.0) < 0.1
        assert look.unsteady
        assert look.u > 0.3


def test_spikes_both_ways_do_not_make_a_channel_unsteady() -> None:
    rng = random.Random(4)
    values = [v + (rng.choice([-9.0, 9.0]) if rng.random() < 0.01 else 0.0) for v in quiet(2000)]
    watch = watched(values, 50)
    assert watch.rejected >= 10
    assert not watch.unsteady


def test_a_lasting_fall_is_a_new_level_and_no_burst() -> None:
    values = quiet(500) + quiet(1000, 2, level=45.0)
    watch = watched(values, 50)
    assert not watch.unsteady
    assert abs(watch.level() - 45.0) < 0.1


def test_a_meter_slower_than_it_is_read_counts_each_value_once() -> None:
    rng = random.Random(5)
    updates, counted = UpdateWatch(), 0
    for k in range(800):
        if k % 8 == 0:
            shown = 50.0 + rng.gauss(0.0, 0.2)
        counted += updates.counts(k / 10, round(shown, 2), 0.01)
    assert abs(updates.period_s - 0.8) < 0.01
    assert 100 <= counted <= 150


def test_a_quiet_display_that_repeats_itself_is_no_slow_meter() -> None:
    rng = random.Random(6)
    updates = UpdateWatch()
    assert all(
        updates.counts(k / 10, float(round(50.4 + rng.gauss(0, 0.1))), 1.0) for k in range(600)
    )
    assert updates.period_s == 0.0
