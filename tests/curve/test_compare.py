"""Before and after: the change at each speed, and how sure it is."""

from __future__ import annotations

import math

import pytest
from uncertainties import ufloat

from acquire.curve.compare import ComparedRow, compare


def rows(*pairs: tuple[float, float], u_amps: float | None = 0.5) -> list[ComparedRow]:
    return [ComparedRow(rpm, amps, u_amps) for rpm, amps in pairs]


BEFORE = ((1500, 26.4), (2000, 48.0), (3000, 68.4), (6000, 88.8))
AFTER = ((1500, 41.0), (2000, 63.0), (3000, 78.7), (6000, 88.5))


def test_the_change_is_given_at_each_common_speed() -> None:
    found = compare(rows(*BEFORE), rows(*AFTER))
    assert [change.shaft_rpm for change in found.points] == [1500, 2000, 3000, 6000]
    assert [round(change.change_amps, 6) for change in found.points] == [14.6, 15.0, 10.3, -0.3]
    assert [change.significant for change in found.points] == [True, True, True, False]
    assert found.points[0].u_change_amps == pytest.approx(math.hypot(0.5, 0.5))
    assert set(found.points[0].as_json()) == {
        *("shaft_rpm", "before_amps", "after_amps", "change_amps", "u_change_amps", "significant")
    }


def test_the_gain_is_said_in_words() -> None:
    words = compare(rows(*BEFORE), rows(*AFTER)).words()
    assert "gained 14.6 A (55 %) at 1500 rpm" in words
    assert "At 1 other speed(s) no sure change" in words
    assert "No change" in compare(rows(*BEFORE), rows(*BEFORE)).words()


def test_a_reading_at_a_slightly_other_speed_is_moved_by_the_slope() -> None:
    # On a straight line the slope is known: 0.05 A/rpm; 20 rpm are 1 A.
    before = rows((1500, 30.0), (1600, 35.0), (1700, 40.0))
    after = rows((1520, 31.0), (1620, 36.0), (1720, 41.0))
    changes = compare(before, after).points
    assert [change.shaft_rpm for change in changes] == [1500, 1600, 1700]
    for change in changes:
        assert change.change_amps == pytest.approx(0.0, abs=0.15)
        assert change.u_change_amps is not None
        # The slope itself is known to a third or so: that part is added.
        assert math.hypot(0.5, 0.5) < change.u_change_amps < 1.0


def test_speeds_only_one_sweep_has_are_named_not_guessed() -> None:
    found = compare(rows((1500, 40), (2000, 60)), rows((2000, 61), (6000, 90)))
    assert [change.shaft_rpm for change in found.points] == [2000]
    assert found.only_before_rpm == (1500,)
    assert found.only_after_rpm == (6000,)
    assert "share no speed" in compare(rows((1500, 40)), rows((6000, 90))).words()


def test_the_gain_of_one_clamp_used_twice_cancels_from_the_difference() -> None:
    # The reference is the package `uncertainties`, which carries the shared error through.
    gain, own = 0.02, 0.2
    clamp = ufloat(1.0, gain)
    before, after = clamp * 60 + ufloat(0, own), clamp * 62 + ufloat(0, own)
    truth = after - before
    found = compare(
        [ComparedRow(2000, 60, before.std_dev, common={"clamp": gain * 60})],
        [ComparedRow(2000, 62, after.std_dev, common={"clamp": gain * 62})],
    ).points[0]
    assert found.change_amps == pytest.approx(truth.nominal_value)
    assert found.u_change_amps == pytest.approx(truth.std_dev, rel=1e-9)
    assert found.significant
    other = compare(
        [ComparedRow(2000, 60, before.std_dev, common={"clamp": gain * 60})],
        [ComparedRow(2000, 62, after.std_dev, common={"other clamp": gain * 62})],
    ).points[0]
    assert not other.significant


def test_unknown_uncertainty_stays_unknown() -> None:
    found = compare(rows((1500, 30), u_amps=None), rows((1500, 45)))
    assert found.points[0].u_change_amps is None
    assert found.points[0].significant is None
    assert "none of it is proved" in found.words()


def test_rows_of_one_speed_count_as_their_mean_with_half_their_gap_as_doubt() -> None:
    found = compare(rows((1500, 40.0), (1500, 42.0)), rows((1500, 45.0))).points[0]
    assert found.before_amps == 41.0
    assert found.u_change_amps == pytest.approx(math.hypot(0.5, 0.5, 1.0))


def test_doubt_about_the_speed_counts_by_the_slope() -> None:
    steep = [ComparedRow(rpm, 0.05 * rpm, 0.1, 10.0) for rpm in (1500, 1600, 1700)]
    for change in compare(steep, steep).points:
        assert change.u_change_amps == pytest.approx(math.sqrt(2) * math.hypot(0.1, 0.5), rel=0.15)
