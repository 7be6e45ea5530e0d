"""The fit against output tables printed by makers (sources in published_tables.py)."""

from __future__ import annotations

import pytest

from tests.curve.published_tables import (
    CAR_80_A,
    CAR_CLASS_9,
    OUTBOARD,
    TABLES,
    PublishedTable,
)

_ids = [table.name for table in TABLES]
LEFT_OUT = [
    pytest.param(table, index, id=f"{table.name} at {table.rpm[index]:g}")
    for table in TABLES
    for index in table.interior()
    if not (table is CAR_80_A and index == 1)
]
"""Every interior point that may be left out with the steep part still measured, or with the
neighbours on both sides above it."""


@pytest.mark.parametrize("table", TABLES, ids=_ids)
def test_the_curve_keeps_to_the_printed_points(table: PublishedTable) -> None:
    for printed, point in zip(table.amps, table.fit().at(table.rpm), strict=True):
        assert abs(point.amps - printed) <= 0.04 * table.top_amps
        # Printed to whole amperes: the band is that of the curve, not of a rounded figure.
        assert point.low - 0.5 <= printed <= point.high + 0.5


@pytest.mark.parametrize(("table", "index"), LEFT_OUT)
def test_a_point_left_out_is_found_again_within_four_percent_of_the_top(
    table: PublishedTable, index: int
) -> None:
    found = table.fit(without=index).at([table.rpm[index]])[0]
    assert abs(found.amps - table.amps[index]) <= 0.04 * table.top_amps


def test_nine_of_ten_points_left_out_lie_inside_the_band() -> None:
    inside = []
    for table in TABLES:
        for index in table.interior():
            found = table.fit(without=index).at([table.rpm[index]])[0]
            inside.append(found.low <= table.amps[index] <= found.high)
    assert len(inside) >= 25
    assert sum(inside) >= 0.9 * len(inside)


def test_the_only_point_on_the_steep_part_lies_inside_the_band_when_left_out() -> None:
    fit = CAR_80_A.fit(without=1)
    found = fit.at([1500])[0]
    assert found.low <= 40 <= found.high
    assert found.high - found.amps >= 0.26 * 80
    assert any("knee was not measured" in warning for warning in fit.warnings)


def test_below_points_that_all_lie_high_the_band_is_at_least_26_percent_of_the_top() -> None:
    fit = CAR_CLASS_9.fit()
    i_max_amps = fit.parameters["i_max_amps"].value
    for point in fit.at([1200, 1500, 1999]):
        assert point.high - point.amps >= 0.26 * i_max_amps * (1 - 1e-9)
    at_lowest = fit.at([2000])[0]
    assert at_lowest.high - at_lowest.amps < 0.05 * i_max_amps
    assert fit.cut_in is None


def test_the_printed_cut_in_speed_is_given_back() -> None:
    cut_in = CAR_80_A.fit().cut_in
    assert cut_in is not None
    assert cut_in.value == pytest.approx(1100, abs=20)
    assert cut_in.u >= abs(cut_in.value - 1100) / 2


def test_the_table_that_ends_on_a_plateau_is_taken_as_limited_and_said_to_be() -> None:
    fit = OUTBOARD.fit()
    assert any("equal" in warning and "4000 rpm" in warning for warning in fit.warnings)
    for point in fit.at([4200, 5000, 5750]):
        assert point.amps == pytest.approx(52, abs=0.5)
        assert point.low <= 52 <= point.high


def test_engine_speeds_scale_the_foot_and_leave_the_amps_alone() -> None:
    table = OUTBOARD
    at_shaft = PublishedTable("", "", tuple(2.5 * rpm for rpm in table.rpm), table.amps).fit()
    at_engine = table.fit()
    n0 = at_engine.parameters["n0_rpm"].value
    assert at_shaft.parameters["n0_rpm"].value == pytest.approx(2.5 * n0, rel=1e-3)
    for slow, fast in zip(at_engine.at([800, 3000]), at_shaft.at([2000, 7500]), strict=True):
        assert fast.amps == pytest.approx(slow.amps, rel=1e-3)
