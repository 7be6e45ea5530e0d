"""Which way a value goes while nothing is held, and how long a sweep may still take."""

from __future__ import annotations

import random

import pytest

from acquire.screens.step_pace import StepPace
from acquire.screens.trend import Trends
from drivers.readings import Quality, Reading


def seen(channel: str, values: list[float], every_s: float = 0.2) -> Trends:
    """One look for each value."""
    trends = Trends()
    for number, value in enumerate(values):
        trends.see([Reading(channel, number * every_s, value)])
    return trends


@pytest.mark.parametrize(
    ("slope", "word"), [(80.0, ("^", "rising")), (-80.0, ("v", "falling")), (0.0, (".", "level"))]
)
def test_a_ramp_rises_or_falls_and_noise_does_neither(slope: float, word: tuple[str, str]) -> None:
    rng = random.Random(4)
    rpm = [2000.0 + slope * n / 5 + rng.gauss(0.0, 1.5) for n in range(20)]
    assert seen("shaft_rpm", rpm).of("shaft_rpm", 6.0) == word


def test_nothing_is_said_of_a_value_just_seen_or_after_a_gap() -> None:
    assert seen("amps", [50.0] * 5).of("amps", 0.3) == ("", "")
    trends = seen("amps", [50.0] * 30)
    trends.see([Reading("amps", 7.0, None, Quality.TIMEOUT)])
    assert trends.of("amps", 0.3) == ("", "")
    assert trends.of("volts", 0.3) == ("", "")


def test_a_temperature_keeps_its_trend_over_many_seconds() -> None:
    case_c = [40.0 + 0.12 * n for n in range(30)]
    assert seen("case_c", case_c, every_s=1.0).of("case_c", 1.0) == ("^", "rising")
    assert seen("case_c", [40.0] * 30, every_s=1.0).of("case_c", 1.0) == (".", "level")


def test_the_time_left_counts_down_and_counts_ramps_and_rests() -> None:
    """Four speeds of 40 s each: 30 s of them a pile cools."""
    pace = StepPace()
    told = []
    for second in range(160):
        words = pace.words(second // 40, 4, now_s=100.0 + second)
        told.append((160 - second, words))
    assert told[0][1] == "1 of 4"
    assert told[40][1] == "2 of 4 · about 2 min left"
    for left_s, words in told[90:]:
        assert words.split(" · ")[1] in {f"about {n} s left" for n in range(left_s, left_s + 6)}


def test_a_speed_that_takes_longer_than_the_others_leaves_at_least_what_is_told_of_it() -> None:
    pace = StepPace()
    for second in range(11):
        pace.words(second // 10, 2, now_s=float(second))
    assert pace.words(1, 2, now_s=100.0, at_least_s=13.0) == "2 of 2 · about 15 s left"
    assert pace.words(2, 2, now_s=120.0) == "all 2 measured"
