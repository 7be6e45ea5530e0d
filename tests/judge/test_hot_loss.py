"""What heat takes, against the published cold and hot pair."""

from __future__ import annotations

import pytest

from acquire.judge.hot_loss import hot_loss

# Westerbeke 33A technical manual, p. 83: a 50 A unit at 13.5 V, cold 24 and 50 A, hot 16 and 41 A
# at 1300 and 2500 rpm (a marine unit, hot in its engine room).
PUBLISHED = {1300.0: (24.0, 16.0), 2500.0: (50.0, 41.0)}


@pytest.mark.parametrize("shaft_rpm", PUBLISHED)
def test_in_an_engine_room_the_loss_is_the_published_one(shaft_rpm: float) -> None:
    cold, hot = PUBLISHED[shaft_rpm]
    loss = hot_loss(shaft_rpm, air_c=90.0)
    assert loss.fraction == pytest.approx(1.0 - hot / cold, abs=0.025)
    assert abs(loss.fraction - (1.0 - hot / cold)) < loss.u


def test_the_loss_falls_with_speed_and_with_cooler_air() -> None:
    speeds = (1000.0, 1200.0, 1300.0, 1500.0, 2500.0, 4000.0, 5000.0)
    losses = [hot_loss(rpm).fraction for rpm in speeds]
    assert losses == sorted(losses, reverse=True)
    airs = [hot_loss(2000.0, air_c=c).fraction for c in (25.0, 40.0, 60.0, 75.0, 90.0)]
    assert airs == sorted(airs)


def test_it_holds_still_outside_the_table_and_never_exceeds_the_whole() -> None:
    assert hot_loss(9000.0) == hot_loss(5000.0)
    assert hot_loss(2000.0, air_c=0.0) == hot_loss(2000.0)
    assert hot_loss(900.0).fraction == 1.0
    just_below = hot_loss(1299.999)
    assert just_below.fraction == pytest.approx(hot_loss(1300.0).fraction, abs=1e-4)
    assert just_below.u > hot_loss(1300.0).u


def test_a_late_cut_in_moves_the_loss_up_the_speeds() -> None:
    assert hot_loss(1300.0 * 1.2, cut_in_rpm=929.0 * 1.2) == hot_loss(1300.0)
    assert hot_loss(1500.0, cut_in_rpm=1100.0).fraction > hot_loss(1500.0).fraction


def test_a_poor_cut_in_estimate_cannot_explain_the_loss_away() -> None:
    assert hot_loss(1500.0, cut_in_rpm=50.0) == hot_loss(1500.0, cut_in_rpm=0.75 * 929.0)
    assert hot_loss(1500.0, cut_in_rpm=50.0).fraction > 0.10


def test_a_speed_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="above 0 rpm"):
        hot_loss(0.0)
