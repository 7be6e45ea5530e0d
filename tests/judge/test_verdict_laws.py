"""What holds for every verdict, whatever the points."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.curve.measured_point import MeasuredPoint
from acquire.judge.elsewhere import judge_elsewhere
from tests.judge.benchwork import rated_curve, within

WORSE = {"fail": 0, "undecided": 1, "pass": 2}
currents = st.lists(st.floats(0.0, 120.0), min_size=4, max_size=4)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(amps=currents, u_amps=st.floats(0.01, 5.0), more=st.floats(0.0, 20.0))
def test_more_current_never_makes_the_outcome_worse(
    amps: list[float], u_amps: float, more: float
) -> None:
    speeds = (1500.0, 2000.0, 3000.0, 6000.0)

    def outcome(extra: float) -> str:
        points = [
            MeasuredPoint(rpm, a + extra, u_amps) for rpm, a in zip(speeds, amps, strict=True)
        ]
        return judge_elsewhere(points, rated=rated_curve(), accept=within()).outcome

    assert WORSE[outcome(more)] >= WORSE[outcome(0.0)]


@settings(max_examples=60, deadline=None, derandomize=True)
@given(amps=currents, u_amps=st.floats(0.01, 5.0), order=st.permutations(range(4)))
def test_the_order_of_the_rows_is_of_no_account(
    amps: list[float], u_amps: float, order: list[int]
) -> None:
    speeds = (1500.0, 2000.0, 3000.0, 6000.0)
    points = [MeasuredPoint(rpm, a, u_amps) for rpm, a in zip(speeds, amps, strict=True)]
    first = judge_elsewhere(points, rated=rated_curve(), accept=within())
    second = judge_elsewhere([points[k] for k in order], rated=rated_curve(), accept=within())
    assert first.reason == second.reason
    assert first.p_all == pytest.approx(second.p_all)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(amps=currents, u_amps=st.floats(0.01, 5.0))
def test_a_pass_means_every_chance_reaches_the_confidence(amps: list[float], u_amps: float) -> None:
    speeds = (1500.0, 2000.0, 3000.0, 6000.0)
    points = [MeasuredPoint(rpm, a, u_amps) for rpm, a in zip(speeds, amps, strict=True)]
    verdict = judge_elsewhere(points, rated=rated_curve(), accept=within())
    chances = [result.p_conform or 0.0 for result in verdict.points]
    assert (verdict.outcome == "pass") is (min(chances) >= 0.95)
    assert (verdict.outcome == "fail") is (min(chances) <= 0.05 / 4)
