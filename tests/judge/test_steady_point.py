"""From channel means to a steady point, checked with an error-propagation library."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from uncertainties import ufloat

from acquire.curve.bridge_map import current
from acquire.judge.budget import covariance
from acquire.judge.recall import point_from_data, point_from_row, point_to_data
from acquire.judge.slopes import Slope, neighbour_slopes, slope_along, typical_volts_slope
from acquire.judge.steady_point import (
    ChannelMean,
    SteadyPoint,
    Step,
    Trust,
    moved,
    not_measured,
    steady_point,
    with_slope,
)
from acquire.judge.verdict import judge
from profiles.accuracy import Accuracy
from tests.judge.benchwork import rated_curve, read, within

CLAMP = Accuracy(percent_of_reading=1.0, absolute=0.5)
SLOPE = Slope(0.06, 0.018)


def at_1500(**changes: object) -> SteadyPoint:
    """A point read at 1492 rpm for the 1500 rpm step."""
    arguments: dict[str, object] = {
        "step": Step(1, 1500.0, "yes", settle_s=21.5, readings=215),
        "amps": ChannelMean(45.0, 0.12, 9.0),
        "shaft_rpm": ChannelMean(1492.0, 0.8, 8.0),
        "amps_trust": Trust(CLAMP, "the clamp"),
        "shaft_trust": Trust(Accuracy(absolute=2.0), "the tachometer"),
        "u_zero_amps": 0.2,
        "speed_slope": SLOPE,
        **changes,
    }
    return steady_point(**arguments)  # type: ignore[arg-type]


def test_a_point_agrees_with_an_error_propagation_library() -> None:
    point = at_1500()
    scatter = ufloat(45.0, 0.12)
    clamp = ufloat(0.0, (0.45 + 0.5) / math.sqrt(3.0))
    zero = ufloat(0.0, 0.2)
    rpm = ufloat(1492.0, 0.8) + ufloat(0.0, 2.0 / math.sqrt(3.0))
    slope = ufloat(0.06, 0.018)
    there = scatter + clamp + zero + slope * (1500.0 - rpm)
    assert point.amps == 45.0
    assert point.amps_at_set_rpm == pytest.approx(there.nominal_value)
    assert point.u_amps == pytest.approx((scatter + clamp + zero).std_dev)
    assert point.u_amps_at_set_rpm == pytest.approx(there.std_dev)
    assert point.u_shaft_rpm == pytest.approx(rpm.std_dev)
    assert point.budget is not None
    assert point.budget.words() == "the clamp's accuracy is 79 % of the doubt"


def test_two_steps_share_gain_zero_and_tachometer_error_and_nothing_else() -> None:
    low = at_1500()
    high = at_1500(
        step=Step(2, 6000.0, "yes"),
        amps=ChannelMean(90.0, 0.2),
        shaft_rpm=ChannelMean(6000.0, 1.0),
        speed_slope=Slope(0.002, 0.0006),
    )
    assert low.budget is not None
    assert high.budget is not None
    gain = (0.45 + 0.5) * (0.9 + 0.5) / 3.0
    tachometer = 0.06 * 0.002 * 4.0 / 3.0
    matrix = covariance([low.budget, high.budget])
    assert matrix[0][1] == pytest.approx(gain + 0.04 + tachometer)


def test_a_speed_from_another_shaft_is_trusted_through_its_ratio() -> None:
    trust = Trust(Accuracy(percent_of_reading=1.0, absolute=1.0), "the engine's tachometer", 2.5)
    assert trust.u(2500.0) == pytest.approx(2.5 * (10.0 + 1.0) / math.sqrt(3.0))


def test_voltage_off_the_test_voltage_is_doubt_not_correction() -> None:
    near = at_1500(volts=ChannelMean(13.44, 0.01), volts_slope=Slope(-4.0), test_volts=13.5)
    assert near.amps == 45.0
    assert near.u_amps is not None
    without = at_1500().u_amps
    assert without is not None
    off = 4.0 * math.hypot(0.01, 0.06 / math.sqrt(3.0))
    assert near.u_amps == pytest.approx(math.hypot(without, off))


def test_beyond_two_percent_a_reading_is_not_moved() -> None:
    far = at_1500(shaft_rpm=ChannelMean(1469.0, 0.8))
    assert far.amps_at_set_rpm is None
    assert far.u_amps_at_set_rpm is None
    assert far.u_amps == at_1500().u_amps
    assert at_1500(shaft_rpm=ChannelMean(1470.0)).amps_at_set_rpm is not None
    assert moved(far, 1469.0) is not None
    assert moved(far, 1500.0) is None


def test_moving_a_point_again_counts_the_slope_once() -> None:
    result = moved(at_1500(), 1510.0)
    assert result is not None
    amps, budget = result
    rpm = ufloat(1492.0, 0.8) + ufloat(0.0, 2.0 / math.sqrt(3.0))
    meter = ufloat(45.0, 0.12) + ufloat(0.0, 0.95 / math.sqrt(3.0)) + ufloat(0.0, 0.2)
    there = meter + ufloat(0.06, 0.018) * (1510.0 - rpm)
    assert amps == pytest.approx(there.nominal_value)
    assert budget is not None
    assert budget.u == pytest.approx(there.std_dev)


def test_an_accuracy_that_is_not_stated_is_named_as_missing() -> None:
    point = at_1500(amps_trust=Trust(None, "the clamp"))
    assert point.budget is not None
    assert point.budget.missing == ("the clamp's accuracy",)
    assert point.u_amps == pytest.approx(math.hypot(0.12, 0.2))


def test_a_slope_learned_later_gives_the_point_it_would_have_given_at_once() -> None:
    first = at_1500(speed_slope=None)
    assert first.amps_at_set_rpm == 45.0
    assert first.budget is not None
    assert "how the current rises with speed here" in first.budget.missing
    assert with_slope(first, SLOPE) == at_1500()
    assert with_slope(at_1500(), None) == first


def test_a_step_without_a_reading_has_no_figures() -> None:
    point = not_measured(3, 2000.0)
    assert not point.usable
    assert moved(point, 2000.0) is None
    assert with_slope(point, SLOPE).amps_at_set_rpm is None


def test_points_read_back_from_a_record_as_they_were() -> None:
    for point in (at_1500(), at_1500(speed_slope=None), not_measured(3, 2000.0)):
        assert point_from_data(point_to_data(point)) == point


def test_a_row_of_the_curve_table_gives_amps_and_doubt_back() -> None:
    point = at_1500()
    row = {name: value for name, value in point_to_data(point).items() if name != "budget"}
    again = point_from_row(row | {"volts": "", "readings": "215"})
    result = moved(again, 1500.0)
    assert result is not None
    amps, budget = result
    assert amps == pytest.approx(point.amps_at_set_rpm)
    assert budget is not None
    assert budget.u == pytest.approx(point.u_amps_at_set_rpm)
    assert again.volts is None
    assert again.readings == 215


def test_a_row_exactly_at_its_speed_keeps_the_whole_doubt() -> None:
    point = at_1500(shaft_rpm=ChannelMean(1500.0, 0.8))
    again = point_from_row(point_to_data(point))
    assert again.budget is not None
    assert again.budget.u == pytest.approx(point.u_amps_at_set_rpm)


# ---- slopes ------------------------------------------------------------------------------------


def test_slopes_of_a_parabola_over_one_by_speed_squared_are_exact_everywhere() -> None:
    speeds = [1500.0, 1800.0, 2500.0, 4000.0, 6000.0]

    def amps(rpm: float) -> float:
        return 95.0 - 1.0e8 / rpm**2 - 3.0e12 / rpm**4

    found = neighbour_slopes([(rpm, amps(rpm)) for rpm in speeds])
    assert [slope.value for slope in found if slope] == pytest.approx(
        [2.0e8 / rpm**3 + 12.0e12 / rpm**5 for rpm in speeds]
    )


@pytest.mark.parametrize(
    ("i_max_amps", "n0_rpm", "r"),
    [(97.0, 950.0, 0.35), (130.0, 1000.0, 0.35), (85.0, 1100.0, 0.3), (97.0, 800.0, 0.5)],
)
@pytest.mark.parametrize(
    "speeds",
    [
        (1500.0, 2000.0, 3000.0, 6000.0),
        (1500.0, 1800.0, 2000.0, 2500.0, 3000.0, 4000.0, 5000.0, 6000.0),
        (1500.0, 6000.0),
        (1800.0, 3000.0, 6000.0),
    ],
)
def test_slopes_of_an_output_curve_are_within_the_uncertainty_told(
    i_max_amps: float, n0_rpm: float, r: float, speeds: tuple[float, ...]
) -> None:
    def amps(rpm: float) -> float:
        return float(current(rpm, i_max_amps=i_max_amps, n0_rpm=n0_rpm, r=r))

    for rpm, slope in zip(speeds, neighbour_slopes([(n, amps(n)) for n in speeds]), strict=True):
        assert slope is not None
        assert abs(slope.value - (amps(rpm + 20.0) - amps(rpm - 20.0)) / 40.0) < slope.u


def test_two_rows_of_one_speed_are_not_a_slope() -> None:
    rows_here = [(1498.7, 45.3), (6001.0, 90.1), (1501.2, 44.9), (5999.0, 89.9), (0.0, 0.0)]
    slopes = neighbour_slopes(rows_here)
    assert slopes[0] == slopes[2]
    assert slopes[0] is not None
    assert 0.04 < slopes[0].value < 0.09
    assert slopes[4] is None
    assert neighbour_slopes([(6000.0, 90.0), (6010.0, 80.0)]) == [None, None]
    assert neighbour_slopes([]) == []


def test_slope_along_a_rated_curve_is_straight_over_one_by_speed_squared() -> None:
    points = [(1500.0, 45.0), (6000.0, 90.0)]
    steepness = 45.0 / (1.0 / 1500.0**2 - 1.0 / 6000.0**2)
    for rpm in (1480.0, 1500.0, 3000.0, 6100.0):
        slope = slope_along(points, rpm)
        assert slope is not None
        assert slope.value == pytest.approx(2.0 * steepness / rpm**3)
    assert slope_along(points[:1], 1500.0) is None


def test_voltage_costs_current_low_on_the_curve_and_little_higher_up() -> None:
    low = typical_volts_slope(shaft_rpm=1500.0, amps=45.0, volts=13.5)
    high = typical_volts_slope(shaft_rpm=6000.0, amps=90.0, volts=13.5)
    assert low.value == pytest.approx(-4.0)
    assert high.value == pytest.approx(1.0)
    assert low.u == pytest.approx(2.0)
    flat = typical_volts_slope(shaft_rpm=3000.0, amps=77.0, volts=13.5)
    assert flat.value == 0.0
    assert flat.u > 0.0


def test_the_point_of_the_fixture_is_moved_by_its_slope() -> None:
    point = read(1, 1500.0, 45.0, shaft_rpm=1490.0)
    assert point.amps_at_set_rpm == pytest.approx(45.2)
    assert replace(point, step=1) == point


def test_a_shaft_that_stood_still_gives_no_point_to_judge() -> None:
    turned = read(1, 1500.0, 44.0)
    still = replace(turned, shaft_rpm=0.0, amps=0.0)
    assert turned.usable
    assert not still.usable
    verdict = judge([still, read(2, 6000.0, 88.0)], rated=rated_curve(), accept=within())
    assert verdict.outcome == "undecided"
    assert "1500, 2000 and 3000 rpm were not measured" in verdict.sentence
