"""The verdict arithmetic, case by case."""

from __future__ import annotations

import pytest

from acquire.judge.circumstances import BadPoint, Circumstances
from acquire.judge.elsewhere import ForeignPoint, judge_elsewhere
from acquire.judge.verdict import judge
from tests.judge.benchwork import rated_curve, read, rows, within

GOOD = ((1500.0, 45.2), (2000.0, 60.0), (3000.0, 77.0), (6000.0, 90.0))


def test_a_unit_on_its_rated_curve_passes_and_the_nearest_speed_is_named() -> None:
    verdict = judge_elsewhere(rows(*GOOD), rated=rated_curve(), accept=within())
    assert verdict.outcome == "pass"
    assert verdict.reason == (
        "Passes. Every speed is above what is allowed; nearest at 1500 rpm: "
        "45.2 A where 40.5 A is allowed (99.9 % sure)."
    )


def test_a_low_speed_fails_and_the_sentence_says_where_it_passes() -> None:
    points = rows((1500.0, 26.4), *GOOD[1:])
    verdict = judge_elsewhere(points, rated=rated_curve(), accept=within())
    assert verdict.outcome == "fail"
    assert verdict.sentence.startswith("Fails. At 1500 rpm it gives 26.4 A where 40.5 A is allowed")


def test_a_reading_inside_its_doubt_is_undecided_and_says_what_to_do() -> None:
    points = [read(n, rpm, amps) for n, (rpm, amps) in enumerate(GOOD[:3], 1)]
    points.append(read(4, 6000.0, 81.3))
    verdict = judge(points, rated=rated_curve(), accept=within())
    assert verdict.outcome == "undecided"
    assert "At 6000 rpm 81.3 A against 81.0 A allowed is inside the ammeter's ±0.8 A." in (
        verdict.reason
    )
    assert verdict.reason.endswith("Read it on a shunt or a better meter.")


@pytest.mark.parametrize("name", ["shaft_rpm", "amps", "u_amps"])
def test_a_figure_that_is_no_number_is_refused_by_name(name: str) -> None:
    figures = {"shaft_rpm": 1500.0, "amps": 45.0, "u_amps": 0.5, name: float("nan")}
    with pytest.raises(BadPoint, match=name):
        judge_elsewhere([ForeignPoint(**figures)], rated=rated_curve(), accept=within())


def test_a_commanded_unit_without_a_stated_command_gets_no_verdict() -> None:
    points = [read(1, 1500.0, 45.0)]
    rated = rated_curve(regulator="commanded")
    assert judge(points, rated=rated, accept=within()).outcome == "not judged"
    told = Circumstances(command="14.5 V")
    assert judge(points, rated=rated, accept=within(), circumstances=told).outcome == "undecided"
