"""Below the speed where a curve begins: no current to be expected, and no promise of exactly none.

Cut-in speed is where the curve meets the speed axis (in the words of ISO 8854 and SAE J56); points
above it tell with doubt only where that is.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from acquire.curve.fit import CurveFit, CurvePoint, fit_curve

MEASURED = ((1300.0, 12.0), (1500.0, 40.0), (2000.0, 62.0), (3000.0, 80.0), (6000.0, 93.0))


@pytest.fixture(scope="module")
def curve() -> CurveFit:
    return fit_curve([CurvePoint(rpm, amps, 0.5) for rpm, amps in MEASURED])


def foot_rpm(curve: CurveFit) -> float:
    return curve.parameters["n0_rpm"].value


def test_the_high_end_is_never_nothing(curve: CurveFit) -> None:
    for rpm in (100.0, 500.0, 0.9 * foot_rpm(curve), foot_rpm(curve) - 1.0, foot_rpm(curve)):
        (at,) = curve.at([rpm])
        assert (at.amps, at.low, at.extrapolated) == (0.0, 0.0, True)
        assert at.high >= 0.01 * 93.0


def test_the_high_end_grows_towards_the_curve_by_the_doubt_of_where_it_begins(
    curve: CurveFit,
) -> None:
    foot, u = foot_rpm(curve), curve.parameters["n0_rpm"].u
    speeds = [foot - 2.0 * u + k * u / 10.0 for k in range(20)]
    highs = [at.high for at in curve.at(speeds)]
    assert all(before <= after for before, after in pairwise(highs))
    (begun,) = curve.at([foot + 1.96 * u])
    assert highs[-1] > 0.01 * 93.0
    assert highs[-1] <= begun.high
    (at_foot,) = curve.at([foot - 1e-6])
    (just_above,) = curve.at([foot + 1e-6])
    assert at_foot.high == pytest.approx(just_above.high, rel=1e-3)


def test_the_warning_names_the_speeds_below_and_where_it_begins(curve: CurveFit) -> None:
    (told,) = curve.warnings_at([500.0, 1500.0])
    assert told.startswith("At 500 rpm nothing was measured")
    assert f"{foot_rpm(curve):.0f} rpm" in told
    assert curve.warnings_at([1300.0, 1500.0]) == ()


def test_a_speed_that_was_measured_to_give_nothing_is_no_warning() -> None:
    still = [CurvePoint(rpm, 0.0, 0.5) for rpm in (600.0, 1000.0)]
    curve = fit_curve([*still, *(CurvePoint(rpm, amps, 0.5) for rpm, amps in MEASURED)])
    assert curve.warnings_at([600.0, 1000.0]) == ()
    assert len(curve.warnings_at([500.0])) == 1
