"""The straight line between rated points, and how lenient it is."""

from __future__ import annotations

import math

import pytest

from acquire.judge.rated_line import leniency_amps, rated_at, rated_slope_at
from tests.judge.benchwork import RATED_POINTS


def test_between_rated_points_the_line_is_straight_and_ends_with_them() -> None:
    assert rated_at(RATED_POINTS, 1750.0) == 52.5
    assert rated_at(RATED_POINTS, 6000.0) == 90.0
    assert rated_at(RATED_POINTS, 1499.0) is None
    assert rated_at(RATED_POINTS, 6001.0) is None
    assert rated_at([(6000.0, 90.0)], 6000.0) == 90.0
    assert rated_slope_at(RATED_POINTS, 1750.0) == 0.03
    assert rated_slope_at([(6000.0, 90.0)], 6000.0) == 0.0


def saturating(rpm: float) -> float:
    """A curve bent as an output curve is."""
    return 110.0 * (1.0 - math.exp(-(rpm - 1000.0) / 1500.0))


@pytest.mark.parametrize(
    "table",
    [
        (1500.0, 2000.0, 3000.0, 4500.0, 6000.0),
        (1500.0, 2000.0, 2500.0, 3000.0, 4000.0, 5000.0, 6000.0),
    ],
)
def test_the_leniency_told_is_about_what_a_bent_curve_shows(table: tuple[float, ...]) -> None:
    points = [(rpm, saturating(rpm)) for rpm in table]
    speeds = [1500.0 + 10.0 * k for k in range(451)]
    gaps = [saturating(rpm) - (rated_at(points, rpm) or 0.0) for rpm in speeds]
    told = leniency_amps(points, speeds)
    assert told is not None
    assert max(gaps) <= told * 1.25
    assert told <= max(gaps) * 2.0


def test_at_the_rated_speeds_themselves_nothing_is_lenient() -> None:
    assert leniency_amps(RATED_POINTS, [1500.0, 2000.0, 3000.0, 6000.0]) == 0.0
    assert leniency_amps(RATED_POINTS[:2], [1700.0]) is None
