"""The verdict arithmetic, case by case."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from scipy import stats

from acquire.curve.measured_point import MeasuredPoint
from acquire.judge.circumstances import BadPoint, Circumstances
from acquire.judge.elsewhere import judge_elsewhere
from acquire.judge.speed_result import Bar, SpeedResult
from acquire.judge.verdict import Verdict, judge
from profiles.rule import Accept
from tests.judge.benchwork import rated_curve, read, rows, within

GOOD = ((1500.0, 45.2), (2000.0, 60.0), (3000.0, 77.0), (6000.0, 90.0))
ONE = rated_curve(((6000.0, 90.0),))
LIMIT = 81.0
Z95 = 1.6448536269514722


def on_one(amps: float, u_amps: float | None = 1.0, **rule: object) -> Verdict:
    """Judge one reading against one rated speed, 81 A allowed."""
    accept = Accept.model_validate({"below_percent": 10.0, **rule})
    return judge_elsewhere(rows((6000.0, amps), u_amps=u_amps), rated=ONE, accept=accept)


def at(verdict: Verdict, shaft_rpm: float) -> SpeedResult:
    """The row of a speed."""
    return next(result for result in verdict.points if result.shaft_rpm == shaft_rpm)


# ---- the decision rules ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("in_u", "outcome"),
    [
        (1.65, "pass"),
        (1.64, "undecided"),
        (0.0, "undecided"),
        (-1.64, "undecided"),
        (-1.65, "fail"),
    ],
)
def test_guarded_needs_the_quantile_times_the_doubt_to_either_side(
    in_u: float, outcome: str
) -> None:
    assert on_one(LIMIT + in_u * 0.8, 0.8).outcome == outcome


@pytest.mark.parametrize("confidence", [0.5, 0.8, 0.95, 0.975, 0.99])
def test_the_guard_follows_the_confidence(confidence: float) -> None:
    k = float(stats.norm.ppf(confidence))
    assert on_one(LIMIT + k * 0.8 + 1e-6, 0.8, confidence=confidence).outcome == "pass"
    below = on_one(LIMIT + k * 0.8 - 1e-6, 0.8, confidence=confidence).outcome
    assert below == ("fail" if confidence == 0.5 else "undecided")


@pytest.mark.parametrize(
    ("amps", "outcome"), [(LIMIT, "pass"), (LIMIT - 0.001, "fail"), (200.0, "pass"), (0.0, "fail")]
)
def test_simple_compares_as_read_and_the_limit_itself_passes(amps: float, outcome: str) -> None:
    verdict = on_one(amps, decision="simple")
    assert verdict.outcome == outcome
    assert verdict.decision == "simple"


def test_a_fail_is_corrected_for_the_number_of_speeds_and_a_pass_is_not() -> None:
    # 40.5 A allowed at 1500 rpm; z(1 - 0.05/4) = 2.2414.
    def outcome(in_u: float) -> str:
        points = rows((1500.0, 40.5 + in_u * 0.5), *GOOD[1:])
        return judge_elsewhere(points, rated=rated_curve(), accept=within()).outcome

    assert [outcome(k) for k in (-2.25, -2.23, 1.64, 1.65)] == [
        "fail", "undecided", "undecided", "pass",
    ]  # fmt: skip


def test_long_run_error_rates_are_those_promised() -> None:
    # Six speeds exactly at the limit, independent normal errors: without the correction a good
    # unit would fail in 1 - 0.95^6 = 26.5 % of tests; with it in 1 - (1 - 0.05/6)^6 = 4.9 %. One
    # speed at the limit and five far above it: a pass in 5 %.
    errors = np.random.Generator(np.random.PCG64(3)).standard_normal((200_000, 6))
    bar = Bar(guarded=True, confidence=0.95, speeds=6)
    assert float(np.mean((errors <= -bar.pass_z).any(axis=1))) == pytest.approx(0.265, abs=0.004)
    assert float(np.mean((errors <= -bar.fail_z).any(axis=1))) == pytest.approx(0.049, abs=0.002)
    assert float(np.mean(errors[:, 0] >= bar.pass_z)) == pytest.approx(0.05, abs=0.002)


def test_any_failed_speed_fails_the_unit_even_where_another_was_not_measured() -> None:
    verdict = judge_elsewhere(
        rows((1500.0, 26.4), *GOOD[1:3]), rated=rated_curve(), accept=within()
    )
    assert verdict.outcome == "fail"
    assert at(verdict, 6000.0).outcome == "not measured"


def test_margin_and_chance_are_those_of_the_row() -> None:
    row = on_one(82.0, 0.5).points[0]
    assert row.margin_amps == 1.0
    assert row.p_conform == pytest.approx(float(stats.norm.cdf(2.0)))
    below = on_one(80.0, 0.5).points[0]
    assert below.margin_amps == -1.0
    assert below.p_conform == pytest.approx(float(stats.norm.cdf(-2.0)))


def test_points_from_elsewhere_count_as_independent() -> None:
    points = rows((1500.0, 41.0), (2000.0, 54.5), (3000.0, 70.0), (6000.0, 82.0))
    verdict = judge_elsewhere(points, rated=rated_curve(), accept=within())
    chances = [result.p_conform for result in verdict.points]
    assert verdict.p_all == pytest.approx(math.prod(chance or 0.0 for chance in chances))


def test_a_common_gain_makes_all_speeds_likelier_together() -> None:
    pairs = ((1500.0, 40.9), (2000.0, 54.5), (3000.0, 70.0), (6000.0, 81.8))
    points = [read(n, rpm, amps) for n, (rpm, amps) in enumerate(pairs, 1)]
    verdict = judge(points, rated=rated_curve(), accept=within())
    chances = [result.p_conform or 0.0 for result in verdict.points]
    assert verdict.p_all is not None
    assert math.prod(chances) + 0.02 < verdict.p_all <= min(chances)


# ---- the sentence ------------------------------------------------------------------------------


def test_a_unit_on_its_rated_curve_passes_and_the_nearest_speed_is_named() -> None:
    verdict = judge_elsewhere(rows(*GOOD), rated=rated_curve(), accept=within())
    assert verdict.reason == (
        "Passes. Every speed is above what is allowed; nearest at 1500 rpm: "
        "45.2 A where 40.5 A is allowed (99.9 % sure)."
    )


def test_a_low_speed_fails_and_the_sentence_says_where_it_passes() -> None:
    verdict = judge_elsewhere(rows((1500.0, 26.4), *GOOD[1:]), rated=rated_curve(), accept=within())
    assert verdict.sentence == (
        "Fails. At 1500 rpm it gives 26.4 A where 40.5 A is allowed; "
        "at 2000, 3000 and 6000 rpm it passes."
    )
    told = verdict.with_what_next("An open diode does this: check the ripple.")
    assert told.reason.endswith("it passes. An open diode does this: check the ripple.")


@pytest.mark.parametrize(
    ("percent", "u_scatter", "inside", "advice"),
    [
        (1.0, 0.05, "inside the ammeter's ±0.8 A.", "Read it on a shunt or a better meter."),
        (0.1, 0.6, "most of it the scatter of the reading.", "Hold that speed longer"),
    ],
)
def test_a_reading_inside_its_doubt_names_the_biggest_part_and_what_to_do(
    percent: float, u_scatter: float, inside: str, advice: str
) -> None:
    points = [read(n, rpm, amps) for n, (rpm, amps) in enumerate(GOOD[:3], 1)]
    points.append(read(4, 6000.0, 81.3, percent=percent, u_scatter=u_scatter))
    verdict = judge(points, rated=rated_curve(), accept=within())
    assert verdict.outcome == "undecided"
    assert verdict.sentence.startswith("Undecided. At 6000 rpm 81.3 A against 81.0 A allowed is")
    assert inside in verdict.sentence
    assert advice in verdict.what_next


def test_too_few_readings_to_be_sure_are_undecided_though_their_scatter_is_small() -> None:
    point = read(1, 6000.0, 81.35, percent=0.0, u_scatter=0.2, dof=2.0, slope=None)
    verdict = judge([point], rated=ONE, accept=within())
    row = verdict.points[0]
    assert row.u_amps is not None
    assert row.margin_amps is not None
    assert row.margin_amps > Z95 * row.u_amps
    assert row.p_conform is not None
    assert row.p_conform < 0.95
    assert verdict.outcome == "undecided"
    assert "% sure" in verdict.reason


@pytest.mark.parametrize(
    ("verdict", "next_step"),
    [
        (on_one(81.5), "better meter"),
        (judge_elsewhere(rows(*GOOD[:3]), rated=rated_curve(), accept=within()), "Measure it"),
        (judge_elsewhere([], rated=rated_curve(), accept=within()), "Measure them"),
    ],
)
def test_undecided_always_says_what_to_do_next(verdict: Verdict, next_step: str) -> None:
    assert verdict.outcome == "undecided"
    assert next_step in verdict.what_next


def test_of_several_reasons_the_one_to_mend_first_is_told() -> None:
    verdict = judge_elsewhere(
        rows((1500.0, 40.6), *GOOD[1:3]), rated=rated_curve(), accept=within()
    )
    assert at(verdict, 1500.0).why == "doubt"
    assert verdict.sentence.startswith("Undecided. 6000 rpm was not measured; 2 speeds passed")


# ---- rated speeds and measured ones ------------------------------------------------------------


def test_a_rated_speed_not_measured_makes_a_pass_impossible_and_is_named() -> None:
    points = rows(*GOOD[:2], (3100.0, 78.0), GOOD[3])
    verdict = judge_elsewhere(points, rated=rated_curve(), accept=within())
    assert verdict.outcome == "undecided"
    assert verdict.sentence == (
        "Undecided. 3000 rpm was not measured (nearest reading at 3100 rpm, "
        "more than 2 % away); 3 speeds passed."
    )
    row = at(verdict, 3000.0)
    assert (row.outcome, row.amps, row.p_conform, row.limit_amps) == (
        "not measured", None, None, 69.3,
    )  # fmt: skip
    assert at(verdict, 3100.0).outcome == "not judged"
    assert at(verdict, 3100.0).rated_amps is None
    assert verdict.p_all is None


@pytest.mark.parametrize(
    ("shaft_rpm", "measured"), [(5880.0, True), (5879.0, False), (6120.0, True), (6121.0, False)]
)
def test_a_reading_counts_up_to_two_percent_from_its_speed(
    shaft_rpm: float, measured: bool
) -> None:
    points = rows(*GOOD[:3], (shaft_rpm, 90.0))
    verdict = judge_elsewhere(points, rated=rated_curve(), accept=within())
    assert (at(verdict, 6000.0).outcome == "pass") is measured


def test_a_reading_off_its_speed_is_moved_by_the_slope_of_the_curve() -> None:
    points = [MeasuredPoint(6060.0, 81.9, 0.3, u_shaft_rpm=50.0)]
    verdict = judge_elsewhere(points, rated=ONE, accept=within(), slope=lambda _: 0.004)
    row = verdict.points[0]
    assert row.amps == pytest.approx(81.9 - 60.0 * 0.004)
    assert row.u_amps == pytest.approx(math.hypot(0.3, 50.0 * 0.004))
    assert row.measured_rpm == (6060.0,)


def test_moving_a_row_from_elsewhere_adds_no_doubt_of_our_own() -> None:
    points = rows((1510.0, 45.5), *GOOD[1:])
    row = at(judge_elsewhere(points, rated=rated_curve(), accept=within()), 1500.0)
    assert row.amps is not None
    assert 45.0 < row.amps < 45.4
    assert row.u_amps == 0.5


def test_without_a_known_slope_a_reading_stands_as_read_and_that_is_said() -> None:
    verdict = judge_elsewhere(rows((6060.0, 90.0)), rated=ONE, accept=within())
    assert verdict.points[0].amps == 90.0
    assert any("it stands as read" in caution for caution in verdict.cautions)


def test_of_two_readings_within_reach_the_nearer_one_is_judged() -> None:
    points = rows((5900.0, 70.0), (6010.0, 90.0))
    verdict = judge_elsewhere(points, rated=ONE, accept=within(), slope=lambda _: 0.0)
    assert at(verdict, 6000.0).outcome == "pass"
    assert at(verdict, 5900.0).outcome == "not judged"


def test_one_reading_may_serve_two_rated_speeds_that_are_close() -> None:
    rated = rated_curve(((1500.0, 45.0), (1520.0, 46.0)))
    verdict = judge_elsewhere(rows((1510.0, 46.0)), rated=rated, accept=within())
    assert [result.outcome for result in verdict.points] == ["pass", "pass"]


def test_points_at_none_of_the_rated_speeds_leave_it_undecided() -> None:
    points = rows((1200.0, 22.0), (4000.0, 85.0))
    verdict = judge_elsewhere(points, rated=rated_curve(), accept=within())
    assert verdict.outcome == "undecided"
    assert "1500, 2000, 3000 and 6000 rpm were not measured" in verdict.reason
    assert len(verdict.points) == 6


def test_a_rated_point_above_what_the_unit_may_run_says_so() -> None:
    rated = rated_curve(max_shaft_rpm=5000.0)
    verdict = judge_elsewhere(rows(*GOOD[:3]), rated=rated, accept=within())
    assert "may run at 5000 rpm at most" in verdict.what_next


def test_up_and_down_rows_give_their_mean_and_half_their_gap_is_doubt() -> None:
    up = read(1, 6000.0, 84.0, percent=0.0, u_scatter=0.3)
    down = read(2, 6000.0, 82.0, percent=0.0, u_scatter=0.4)
    row = judge([up, down], rated=ONE, accept=within()).points[0]
    assert row.amps == pytest.approx(83.0)
    assert row.budget is not None
    by_kind = {part.kind: part.u_amps for part in row.budget.parts}
    assert by_kind["gap"] == pytest.approx(1.0)
    assert by_kind["scatter"] == pytest.approx(0.25)
    assert row.steps == (1, 2)


def test_the_meters_own_error_does_not_shrink_by_reading_twice() -> None:
    once = judge([read(1, 6000.0, 84.0)], rated=ONE, accept=within()).points[0]
    twice = judge([read(n, 6000.0, 84.0) for n in (1, 2)], rated=ONE, accept=within()).points[0]
    assert once.budget is not None
    assert twice.budget is not None
    shares = [
        next(part.u_amps for part in budget.parts if part.kind == "accuracy")
        for budget in (once.budget, twice.budget)
    ]
    assert shares[0] == pytest.approx(shares[1])


def test_each_step_finds_the_row_it_was_judged_in() -> None:
    points = [read(1, 6000.0, 84.0), read(2, 4000.0, 80.0), read(3, 6000.0, 84.2)]
    verdict = judge(points, rated=ONE, accept=within())
    for step in (1, 3):
        found = verdict.for_step(step)
        assert found is not None
        assert found.limit_amps == LIMIT
    off = verdict.for_step(2)
    assert off is not None
    assert off.outcome == "not judged"
    assert verdict.for_step(4) is None


def test_a_unit_derived_from_its_plate_is_judged_at_its_speeds_only() -> None:
    rated = rated_curve(((1500.0, 45.0), (6000.0, 90.0)), derived=True)
    points = rows((1500.0, 45.0), (3000.0, 30.0), (6000.0, 90.0))
    verdict = judge_elsewhere(points, rated=rated, accept=within(at="measured speeds"))
    assert verdict.outcome == "pass"
    assert verdict.at == "rated speeds"
    assert at(verdict, 3000.0).outcome == "not judged"
    assert any("derived from the marking" in caution for caution in verdict.cautions)


# ---- at measured speeds ------------------------------------------------------------------------


def test_at_measured_speeds_the_limit_is_the_straight_line_and_its_leniency_is_told() -> None:
    accept = within(at="measured speeds")
    points = rows((1700.0, 52.0), (2500.0, 70.0), (5000.0, 86.0))
    verdict = judge_elsewhere(points, rated=rated_curve(), accept=accept)
    assert verdict.outcome == "pass"
    assert at(verdict, 2500.0).rated_amps == 68.5
    assert at(verdict, 2500.0).limit_amps == 61.65
    assert verdict.lenient_amps is not None
    assert any(f"{verdict.lenient_amps:.1f} A" in caution for caution in verdict.cautions)


def test_at_measured_speeds_nothing_outside_the_rated_ones_is_judged() -> None:
    accept = within(at="measured speeds")
    points = rows((1000.0, 0.0), (1490.0, 45.0), (3000.0, 77.0), (6500.0, 0.0))
    verdict = judge_elsewhere(points, rated=rated_curve(), accept=accept)
    assert verdict.outcome == "pass"
    assert [(r.shaft_rpm, r.outcome) for r in verdict.points] == [
        (1000.0, "not judged"), (1500.0, "pass"), (3000.0, "pass"), (6500.0, "not judged"),
    ]  # fmt: skip
    assert any("1000 and 6500 rpm" in caution for caution in verdict.cautions)
    assert any("from 3000 to 6000 rpm" in caution for caution in verdict.cautions)
    outside = judge_elsewhere(rows((1000.0, 60.0)), rated=rated_curve(), accept=accept)
    assert outside.outcome == "undecided"
    assert "between 1500 and 6000 rpm" in outside.reason


def test_a_speed_error_moves_reading_and_limit_together_on_a_sloped_limit() -> None:
    points = [MeasuredPoint(1700.0, 52.0, 0.3, u_shaft_rpm=20.0)]
    accept = within(at="measured speeds")
    along = judge_elsewhere(points, rated=rated_curve(), accept=accept, slope=lambda _: 0.03)
    # The limit rises by 0.9 · 0.03 A per rpm there.
    assert along.points[0].u_amps == pytest.approx(math.hypot(0.3, 20.0 * 0.003))


# ---- what is not known, and what is refused ----------------------------------------------------


def test_without_uncertainty_the_decision_is_simple_without_a_chance_and_says_so() -> None:
    verdict = on_one(81.0, None)
    assert (verdict.outcome, verdict.decision, verdict.p_all) == ("pass", "simple", None)
    assert verdict.points[0].p_conform is None
    assert verdict.points[0].u_amps is None
    assert any("No uncertainty is known" in caution for caution in verdict.cautions)
    assert on_one(80.999, None).outcome == "fail"


def test_one_row_without_uncertainty_makes_the_whole_decision_simple() -> None:
    points = [*rows(*GOOD[:3]), MeasuredPoint(6000.0, 81.1)]
    verdict = judge_elsewhere(points, rated=rated_curve(), accept=within())
    assert (verdict.outcome, verdict.decision) == ("pass", "simple")
    assert any("No uncertainty is known at 6000 rpm" in caution for caution in verdict.cautions)


def test_of_two_rows_at_a_speed_both_need_an_uncertainty() -> None:
    points = [MeasuredPoint(6000.0, 84.0, 0.1), MeasuredPoint(6000.0, 84.2)]
    verdict = judge_elsewhere(points, rated=ONE, accept=within())
    assert verdict.decision == "simple"
    assert verdict.points[0].p_conform is None


def test_rows_from_elsewhere_at_one_speed_are_not_more_certain_than_each() -> None:
    points = [MeasuredPoint(6000.0, 84.0, 0.4), MeasuredPoint(6000.0, 84.2, 0.6)]
    row = judge_elsewhere(points, rated=ONE, accept=within()).points[0]
    assert row.amps == pytest.approx(84.1)
    assert row.u_amps == pytest.approx(math.hypot(0.5, 0.1))


@pytest.mark.parametrize(("amps", "outcome"), [(81.0, "pass"), (80.9, "fail")])
def test_an_uncertainty_of_nothing_is_taken_at_its_word_with_a_caution(
    amps: float, outcome: str
) -> None:
    verdict = on_one(amps, 0.0)
    assert verdict.outcome == outcome
    assert any("uncertainty of 0 A" in caution for caution in verdict.cautions)


@pytest.mark.parametrize("amps", [0.0, -3.0])
def test_a_unit_that_gives_nothing_fails(amps: float) -> None:
    points = rows(*((rpm, amps) for rpm, _ in GOOD))
    assert judge_elsewhere(points, rated=rated_curve(), accept=within()).outcome == "fail"


def test_a_rule_that_asks_for_nothing_at_a_speed_says_so() -> None:
    rated = rated_curve(((1100.0, 4.0), (6000.0, 90.0)))
    accept = Accept(below_amps=10.0)
    verdict = judge_elsewhere(rows((1100.0, -3.0), (6000.0, 90.0)), rated=rated, accept=accept)
    assert verdict.outcome == "pass"
    assert any("at 1100 rpm the rule allows no current" in c.lower() for c in verdict.cautions)


@pytest.mark.parametrize("name", ["shaft_rpm", "amps", "u_amps", "u_shaft_rpm", "volts", "u_volts"])
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_figure_that_is_no_number_is_refused_by_name(name: str, value: float) -> None:
    figures = {"shaft_rpm": 1500.0, "amps": 45.0, name: value}
    with pytest.raises(BadPoint, match=f"Point 1: {name} = "):
        judge_elsewhere([MeasuredPoint(**figures)], rated=rated_curve(), accept=within())


@pytest.mark.parametrize("name", ["shaft_rpm", "u_amps", "u_shaft_rpm", "u_volts"])
def test_a_figure_below_nothing_is_refused_where_it_cannot_be(name: str) -> None:
    figures = {"shaft_rpm": 1500.0, "amps": 45.0, name: -1.0}
    with pytest.raises(BadPoint, match="is below 0"):
        judge_elsewhere([MeasuredPoint(**figures)], rated=rated_curve(), accept=within())


def test_a_commanded_unit_without_a_stated_command_gets_no_verdict() -> None:
    points = [read(1, 6000.0, 90.0)]
    rated = rated_curve(((6000.0, 90.0),), regulator="commanded")
    silent = judge(points, rated=rated, accept=within())
    assert silent.outcome == "not judged"
    assert "command is not stated" in silent.reason
    told = Circumstances(command="14.5 V")
    assert judge(points, rated=rated, accept=within(), circumstances=told).outcome == "pass"
    stated = rated_curve(((6000.0, 90.0),), regulator="commanded", command="14.5 V over LIN")
    assert judge(points, rated=stated, accept=within()).outcome == "pass"


def test_without_a_rating_the_points_are_listed_and_nothing_is_judged() -> None:
    verdict = judge([read(1, 6000.0, 90.0)], rated=None, accept=None)
    assert verdict.outcome == "not judged"
    assert verdict.points[0].amps == pytest.approx(90.0)
    assert verdict.points[0].limit_amps is None


def test_a_stopped_run_is_stopped_whatever_its_points_say() -> None:
    stopped = Circumstances(stopped="the operator stopped it after 1 of 1 steps.")
    for amps in (90.0, 10.0):
        verdict = judge([read(1, 6000.0, amps)], rated=ONE, accept=within(), circumstances=stopped)
        assert verdict.outcome == "stopped"
        assert "the operator stopped it" in verdict.reason


def test_plain_data_holds_the_keys_readers_rely_on_and_only_what_json_can_write() -> None:
    points = rows(*GOOD[:3])
    verdict = judge_elsewhere(points, rated=rated_curve(), accept=within())
    data = json.loads(json.dumps(verdict.to_data(), allow_nan=False))
    assert data["outcome"] == "undecided"
    assert data["acceptance"] == "at most 10 % below rated"
    assert data["decision"] == "guarded"
    keys = "shaft_rpm amps u_amps settled rated_amps limit_amps margin_amps p_conform outcome"
    assert all(set(keys.split()) <= set(row) for row in data["points"])
    assert data["points"][3]["amps"] is None
    assert data["checks"] == []
