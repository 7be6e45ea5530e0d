"""What the fit refuses, what it warns of, and that it answers in numbers all the same."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.curve import bridge_map
from acquire.curve.cut_in import curve_figures
from acquire.curve.fit import CannotFit, CurveFit, fit_curve
from acquire.curve.points import CurvePoint

RPM = (1200, 1500, 1800, 2100, 2500, 3000, 4000, 5000, 6000)


def machine(rpm: float) -> float:
    return float(bridge_map.current(rpm, i_max_amps=92.0, n0_rpm=980.0, r=0.33))


def fit(*pairs: tuple[float, float], u_amps: float | None = None) -> CurveFit:
    return fit_curve([CurvePoint(rpm, amps, u_amps) for rpm, amps in pairs])


def healthy(*, u_amps: float | None = 0.3) -> CurveFit:
    return fit(*((rpm, machine(rpm)) for rpm in RPM), u_amps=u_amps)


def said(curve: CurveFit, words: str) -> bool:
    return any(words in warning for warning in curve.warnings)


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ([], "two speeds"),
        ([(1500, 45)], "two speeds"),
        ([(1500, 45), (1500, 46)], "two speeds"),
        ([(1500, 0), (6000, 0)], "No current"),
        ([(1500, -2), (6000, -3)], "No current"),
        ([(1500, 0), (6000, 1e-9)], "No current"),
        ([(0, 5), (6000, 0)], "standstill"),
        ([(1500, math.nan), (6000, 90)], "no reading"),
        ([(math.inf, 45), (6000, 90)], "no reading"),
        ([(-1500, 45), (6000, 90)], "no reading"),
    ],
)
def test_what_is_no_curve_is_refused_with_words(
    pairs: list[tuple[float, float]], words: str
) -> None:
    with pytest.raises(CannotFit, match=words) as caught:
        fit(*pairs)
    assert caught.value.what_to_do


def test_a_healthy_curve_needs_no_warning() -> None:
    assert healthy().warnings == ()


def test_two_points_are_answered_with_the_shape_assumed() -> None:
    curve = fit((1500, 45), (6000, 90))
    assert said(curve, "2 points: the shape is assumed")
    between = curve.at([2500])[0]
    # An ordinary machine of 45/90 A: the simulated 14 V machine gives 73.3 A of 87.9 at 2500 rpm.
    assert between.amps == pytest.approx(74, abs=4)
    assert between.low < between.amps < between.high


def test_three_points_say_that_nothing_is_left_to_judge_the_fit_by() -> None:
    assert said(fit((1300, 16), (2500, 41), (5000, 48)), "nothing is left over")


def test_asking_far_beyond_the_points_is_flagged_and_still_a_number() -> None:
    curve = healthy()
    document = curve.as_json([0, 3000, 6600, 20_000])
    flags = [point["extrapolated"] for point in document["at"]]  # type: ignore[attr-defined]
    assert flags == [True, False, True, True]
    warnings = "\n".join(document["warnings"])  # type: ignore[arg-type]
    assert "20000 rpm the curve is a guess" in warnings
    assert "6600" not in warnings


def test_a_top_that_was_not_reached_is_said() -> None:
    curve = fit(*((rpm, machine(rpm)) for rpm in (1100, 1200, 1300, 1400, 1500)))
    assert said(curve, "top of the curve was not measured")


def test_a_wild_reading_is_named_and_does_not_drag_the_curve() -> None:
    rows = [(rpm, machine(rpm) - (8.0 if rpm == 2500 else 0.0)) for rpm in RPM]
    curve = fit(*rows, u_amps=0.5)
    assert said(curve, "2500 rpm")
    assert sum("read it again" in warning for warning in curve.warnings) == 1
    assert curve.at([2500])[0].amps == pytest.approx(machine(2500), abs=1.0)


def test_equal_top_readings_are_a_limit_not_the_machine() -> None:
    rows = [(rpm, min(machine(rpm), 70.0)) for rpm in (*RPM, 7000)]
    curve = fit(*rows, u_amps=0.3)
    assert said(curve, "equal (from 2500 rpm on): taken as a limit")
    assert curve.parameters["i_max_amps"].value > 85
    top = curve.at([5000])[0]
    assert top.amps == pytest.approx(70)
    assert top.low <= 70
    assert top.high >= machine(5000)
    assert curve.slope(5000) == 0
    assert curve.speed_for(75) is None


def test_readings_marked_as_limited_are_lower_bounds() -> None:
    rows = [CurvePoint(rpm, machine(rpm), 0.3) for rpm in RPM]
    held = [CurvePoint(2200, 40.0, 0.3, censored=True)]
    curve = fit_curve(rows + held)
    assert curve.at([2200])[0].amps == pytest.approx(machine(2200), abs=0.2)


def test_a_shape_that_is_no_alternators_is_said_to_be_none() -> None:
    scattered = zip(RPM, (11, 40, 52, 26, 53, 70, 42, 80, 55), strict=True)
    assert said(fit(*scattered), "not that of an alternator")
    falling = zip(RPM, (90, 85, 80, 70, 60, 50, 40, 30, 20), strict=True)
    assert said(fit(*falling), "not that of an alternator")


def test_readings_without_uncertainty_are_given_one_and_it_is_said() -> None:
    assert said(healthy(u_amps=None), "0.75 % of the top current")


def test_the_foot_weighs_but_is_not_dropped() -> None:
    with_foot = fit((1060, 0), *((rpm, machine(rpm)) for rpm in RPM[1:]), u_amps=0.3)
    without = fit(*((rpm, machine(rpm)) for rpm in RPM[1:]), u_amps=0.3)
    moved = with_foot.parameters["n0_rpm"].value - without.parameters["n0_rpm"].value
    assert moved > 1
    assert with_foot.at([2000])[0].amps == pytest.approx(without.at([2000])[0].amps, abs=0.5)


def test_a_unit_that_feeds_its_own_field_may_read_below_zero_at_the_foot() -> None:
    curve = fit((800, -3), *((rpm, machine(rpm)) for rpm in RPM), u_amps=0.3)
    assert curve.at([800])[0].amps == 0
    assert curve.at([2000])[0].amps == pytest.approx(machine(2000), abs=0.3)


def test_the_shared_gain_moves_the_whole_curve_and_bends_none_of_it() -> None:
    plain, shared = (
        healthy(u_amps=1.0),
        fit_curve([CurvePoint(rpm, machine(rpm), 1.0) for rpm in RPM], common_gain=0.01),
    )
    assert shared.parameters["i_max_amps"].u >= 0.01 * 90
    bare, gained = plain.at([6000])[0], shared.at([6000])[0]
    assert gained.high - gained.amps >= 1.96 * 0.01 * gained.amps
    assert gained.amps == pytest.approx(bare.amps, abs=0.05)


def test_speed_uncertainty_widens_the_band_where_the_curve_is_steep() -> None:
    def half(u_rpm: float, at_rpm: float) -> float:
        rows = [CurvePoint(rpm, machine(rpm), 0.3, u_rpm) for rpm in (1400, 1700, 2300, 6000)]
        return float(fit_curve(rows).bridge_map.u_amps(np.array([at_rpm]))[0])

    assert half(20.0, 1400) > 2 * half(0.0, 1400)
    assert half(20.0, 6000) < 1.2 * half(0.0, 6000)


def test_figures_of_the_rating_are_read_off_the_curve() -> None:
    figures = curve_figures(healthy(), idle_rpm=1500, rated_rpm=6000)
    assert figures.idle is not None
    assert figures.rated is not None
    assert figures.cut_in_rpm is not None
    assert figures.idle.amps == pytest.approx(machine(1500), abs=0.3)
    assert figures.rated.amps == pytest.approx(machine(6000), abs=0.3)
    assert figures.cut_in_rpm.value == pytest.approx(980, abs=2 * figures.cut_in_rpm.u)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 9000), st.floats(-3, 300)), min_size=0, max_size=9),
    st.sampled_from([None, 0.0, 0.01, 2.0]),
)
def test_any_points_give_numbers_in_order_or_are_refused(
    rows: list[tuple[int, float]], u_amps: float | None
) -> None:
    try:
        curve = fit_curve([CurvePoint(rpm, amps, u_amps, 5.0) for rpm, amps in rows])
    except CannotFit:
        return
    document = curve.as_json([0, 500, 1500, 4000, 40_000])
    json.dumps(document, allow_nan=False)
    for point in curve.at([0, 500, 1500, 4000, 40_000]):
        assert point.low <= point.amps <= point.high
