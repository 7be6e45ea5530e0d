"""Limits from acceptance rules."""

from __future__ import annotations

import pytest

from acquire.judge.acceptance import acceptance_words, limit_at
from profiles.rule import Accept

# Rules of thumb as printed in service literature, each with the current it asks of a 90 A unit:
# within 10 A (Delco 10SI/15SI bench check), within 15 A (GM on-vehicle, CS series), within 10 %
# (Ford, Topaz 1992; Suzuki outboards), at least 70 % (Mitsubishi, Hyundai/Kia, Mazda: 100 A -> 70 A
# and 120 A -> 84 A are their own examples), on or above the printed curve (Fiat bench procedure).
WITHIN_10_A = Accept(below_amps=10.0)
WITHIN_15_A = Accept(below_amps=15.0)
WITHIN_10_PERCENT = Accept(below_percent=10.0)
AT_LEAST_70_PERCENT = Accept(at_least_percent=70.0)
ON_OR_ABOVE = Accept(on_or_above=True)


@pytest.mark.parametrize(
    ("rule", "limit_amps"),
    [
        (WITHIN_10_A, 80.0),
        (WITHIN_15_A, 75.0),
        (WITHIN_10_PERCENT, 81.0),
        (AT_LEAST_70_PERCENT, 63.0),
        (ON_OR_ABOVE, 90.0),
    ],
)
def test_rules_of_thumb_ask_of_a_90_amp_unit_what_they_say(rule: Accept, limit_amps: float) -> None:
    assert limit_at(90.0, rule) == limit_amps


def test_published_examples_of_the_70_percent_rule() -> None:
    assert limit_at(100.0, AT_LEAST_70_PERCENT) == 70.0
    assert limit_at(120.0, AT_LEAST_70_PERCENT) == 84.0


def test_82_amps_of_90_meets_every_tolerance_rule_and_80_5_misses_only_the_10_percent_one() -> None:
    rules = (WITHIN_10_A, WITHIN_15_A, WITHIN_10_PERCENT, AT_LEAST_70_PERCENT)
    assert [limit_at(90.0, rule) <= 82.0 for rule in rules] == [True, True, True, True]
    assert [limit_at(90.0, rule) <= 80.5 for rule in rules] == [True, True, False, True]


@pytest.mark.parametrize(
    ("rated_amps", "limit_amps"),
    [(90.0, 81.0), (200.0, 190.0), (100.0, 90.0), (50.0, 45.0)],
)
def test_of_several_keys_the_strictest_counts_at_each_speed(
    rated_amps: float, limit_amps: float
) -> None:
    both = Accept(below_percent=10.0, below_amps=10.0)
    assert limit_at(rated_amps, both) == limit_amps


def test_a_limit_is_the_decimal_number_a_person_would_compute() -> None:
    assert limit_at(63.8, WITHIN_10_PERCENT) == 57.42
    assert limit_at(0.7, WITHIN_10_PERCENT) == 0.63


def test_a_rule_can_ask_for_more_than_rated() -> None:
    assert limit_at(90.0, Accept(at_least_percent=105.0)) == 94.5


def test_an_amps_rule_can_allow_less_than_nothing_near_cut_in() -> None:
    assert limit_at(4.0, WITHIN_10_A) == -6.0


def test_the_rule_is_said_in_plain_words() -> None:
    assert acceptance_words(WITHIN_10_PERCENT) == "at most 10 % below rated"
    assert acceptance_words(ON_OR_ABOVE) == "on or above rated"
    both = Accept(below_percent=10.0, below_amps=7.5)
    words = "at most 10 % below rated and at most 7.5 A below rated, whichever is stricter"
    assert acceptance_words(both) == words
