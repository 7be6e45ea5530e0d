"""The benchmark's targets in miniature: few signals, generous bounds, the same every time."""

from __future__ import annotations

from functools import cache

import pytest

from tests.benchmarks.settling import run_family
from tests.benchmarks.settling_ours import declare, plan_of
from tests.benchmarks.settling_score import Outcome, Score, outcome_of, score, shown_mean
from tests.benchmarks.settling_signals import make_signal

SEED = 77


@cache
def outcomes(family: str, n: int, *, predict: bool, fast: bool = False) -> tuple[Outcome, ...]:
    signals = [make_signal(family, index, SEED) for index in range(n)]
    return tuple(outcome_of(s, declare(s, plan_of(s, predict=predict, fast=fast))) for s in signals)


def scored(family: str, n: int, *, predict: bool, fast: bool = False) -> Score:
    return score(outcomes(family, n, predict=predict, fast=fast))


def test_short_lags_are_taken_in_a_few_times_the_ideal_and_rightly() -> None:
    ours = scored("A", 40, predict=True)
    test_alone = scored("A", 40, predict=False)
    assert ours.times_ideal <= 3.2
    assert ours.median_s <= 0.75 * test_alone.median_s
    assert ours.false_percent <= 2.5
    assert test_alone.false_percent <= 2.5
    assert ours.covered_percent >= 87.0
    assert ours.predicted_percent >= 60.0
    assert ours.never_percent <= 5.0


def test_the_fast_form_is_faster_still() -> None:
    assert (
        scored("A", 40, predict=True, fast=True).median_s <= scored("A", 40, predict=True).median_s
    )


def test_long_lags_are_taken_in_a_few_times_the_ideal_and_rightly() -> None:
    ours = scored("B", 30, predict=True)
    assert ours.times_ideal <= 2.8
    assert ours.false_percent <= 3.4
    assert ours.covered_percent >= 85.0


def test_a_slow_second_lag_is_rarely_mistaken() -> None:
    ours = scored("R1", 30, predict=True)
    assert ours.false_percent <= 6.7
    assert ours.covered_percent >= 82.0


@pytest.mark.parametrize("family", ["R5", "R9"])
def test_a_worn_brushs_low_mean_is_never_reported(family: str) -> None:
    """Values stay within their interval of the current without bursts, and bursts are flagged."""
    ours = outcomes(family, 20, predict=True)
    told = [o for o in ours if not o.never]
    assert all(o.covered or o.bias_percent < 1.0 for o in told)
    assert sum(o.unsteady for o in told) >= (10 if family == "R5" else 3)


def test_all_methods_see_the_same_signals_and_a_fixed_dwell_is_blind_to_long_lags() -> None:
    rows = {name: score(found) for name, found in run_family("B", 10, SEED).items()}
    assert rows["fixed dwell 20 s"].false_percent >= 20.0
    assert rows["seer"].false_percent == 0.0
    assert rows["seer"].times_ideal == pytest.approx(1.0)
    assert rows["ours, cautious"].false_percent <= 10.0


def test_signals_are_the_same_for_the_same_seed() -> None:
    one, other = make_signal("A", 3, SEED), make_signal("A", 3, SEED)
    assert one.machine == other.machine
    assert one.amps.tobytes() == other.amps.tobytes()
    assert make_signal("A", 3, SEED + 1).machine != one.machine


def test_what_a_display_shows_of_a_quiet_current_is_its_step() -> None:
    assert shown_mean(50.3, 0.02, 1.0) == pytest.approx(50.0, abs=0.03)
    assert shown_mean(50.3, 2.0, 1.0) == pytest.approx(50.3, abs=1e-6)
