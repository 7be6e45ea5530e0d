"""Cold or warm, the wrong voltage, not settled: what the way of measuring does to a verdict."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from acquire.cli.live_text import point_line
from acquire.cli.result_text import table_lines
from acquire.curve.measured_point import MeasuredPoint
from acquire.findings.seen import Seen
from acquire.judge.circumstances import Circumstances, gone_on_warm, run_state
from acquire.judge.elsewhere import judge_elsewhere
from acquire.judge.hot_loss import hot_loss
from acquire.judge.slopes import Slope
from acquire.judge.steady_point import ChannelMean, SteadyPoint, Step, Trust, steady_point
from acquire.judge.verdict import Verdict, judge
from acquire.judge.verdict_words import chance_words
from acquire.report.language import language
from acquire.report.recorded_words import in_language
from profiles.accuracy import Accuracy
from tests.judge.benchwork import rated_curve, read, rows, within

ONE = rated_curve(((6000.0, 90.0),))
COLD = Circumstances(state="cold")
WARM = Circumstances(state="warm")


def judged(
    point: SteadyPoint, circumstances: Circumstances = WARM, *, decision: str = "guarded"
) -> Verdict:
    """Judge one point at 6000 rpm, 81 A allowed."""
    rule = within(decision="simple" if decision == "simple" else "guarded")
    return judge([point], rated=ONE, accept=rule, circumstances=circumstances)


# ---- warm and cold -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked_s", "ran_s", "steady", "state"),
    [
        (None, 0.0, False, "cold"),
        (1800.0, 1800.0, False, "warm"),
        (1800.0, 900.0, False, "cold"),
        (1800.0, 400.0, True, "warm"),
        (60.0, 60.0, False, "warm"),
        (59.0, 59.0, False, "cold"),
    ],
)
def test_warm_is_a_whole_warm_up_of_a_minute_or_a_steady_one(
    asked_s: float | None, ran_s: float, steady: bool, state: str
) -> None:
    assert run_state(asked_s=asked_s, ran_s=ran_s, steady=steady) == state


@pytest.mark.parametrize(("amps", "outcome"), [(95.0, "pass"), (86.0, "undecided"), (79.0, "fail")])
def test_the_chance_in_the_table_is_the_one_the_decision_went_by(amps: float, outcome: str) -> None:
    verdict = judged(read(1, 6000.0, amps, percent=0.2), COLD)
    point = verdict.points[0]
    assert point.outcome == outcome
    assert point.p_conform is not None
    assert point.p_conform_hot is not None
    row = table_lines(verdict)[1]
    if outcome == "fail":
        assert point.p_decided == point.p_conform
        return
    assert point.p_decided == point.p_conform_hot
    assert chance_words(point.p_conform_hot) in row
    if outcome == "undecided":
        assert point.p_conform > 0.9995
        assert point.p_conform_hot < 0.95
        assert "99.9 %" not in row
    else:
        said = re.search(r"\((?:as read, )?([\d.]+) % sure\)", verdict.sentence)
        assert said is not None
        assert f"{said[1]} %" in row


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (None, ""),
        (0.9499, "94.9 %"),
        (0.99949, "99.9 %"),
        (0.9996, "99.9 %"),
        (1.0, "99.9 %"),
        (0.5, "50.0 %"),
        (0.0009, "<0.1 %"),
    ],
)
def test_a_chance_is_never_rounded_up(chance: float | None, words: str) -> None:
    assert chance_words(chance) == words


@pytest.mark.parametrize(("amps", "outcome"), [(95.0, "pass"), (86.0, "undecided"), (79.0, "fail")])
def test_a_cold_run_passes_a_warm_rating_only_after_the_hot_loss(amps: float, outcome: str) -> None:
    verdict = judged(read(1, 6000.0, amps, percent=0.2), COLD)
    assert verdict.outcome == outcome
    assert any(c.startswith("Tested cold against a warm rating") for c in verdict.cautions)


def test_the_hot_current_carries_the_doubt_of_the_loss() -> None:
    row = judged(read(1, 6000.0, 95.0), COLD).points[0]
    loss = hot_loss(6000.0)
    assert row.amps == pytest.approx(95.0)
    assert row.hot_amps == pytest.approx(95.0 * (1.0 - loss.fraction))
    assert row.u_amps is not None
    u = math.hypot(row.u_amps * (1.0 - loss.fraction), 95.0 * loss.u)
    assert row.u_hot_amps == pytest.approx(u)
    assert row.p_conform_hot is not None
    assert row.p_conform is not None
    assert row.p_conform_hot < row.p_conform


def test_a_cold_run_says_cold_in_its_sentence_and_what_to_do() -> None:
    passed = judged(read(1, 6000.0, 96.0), COLD)
    assert "96.0 A cold, about 89.3 A warm, where 81.0 A is allowed" in passed.reason
    failed = judged(read(1, 6000.0, 70.0), COLD)
    assert "Even cold, at 6000 rpm it gives 70.0 A" in failed.reason
    left = judged(read(1, 6000.0, 86.0), COLD)
    assert left.points[0].why == "cold"
    assert left.reason.endswith("Run it warm and test again.")


def test_a_cold_run_as_read_passes_only_what_is_left_when_warm() -> None:
    assert judged(read(1, 6000.0, 88.0), COLD, decision="simple").outcome == "pass"
    assert judged(read(1, 6000.0, 86.0), COLD, decision="simple").outcome == "undecided"
    assert judged(read(1, 6000.0, 80.9), COLD, decision="simple").outcome == "fail"


def test_a_late_cut_in_makes_the_loss_of_a_cold_run_larger() -> None:
    point = read(1, 1500.0, 52.0)
    rated = rated_curve(((1500.0, 45.0),))
    own = Circumstances(state="cold", cut_in_rpm=1150.0)
    usual, late = (
        judge([point], rated=rated, accept=within(), circumstances=c).points[0] for c in (COLD, own)
    )
    assert usual.hot_amps is not None
    assert late.hot_amps is not None
    assert late.hot_amps < usual.hot_amps


def test_a_warm_run_against_a_cold_rating_is_judged_as_it_is_and_said_to_be_stricter() -> None:
    rated = rated_curve(((6000.0, 90.0),), state="cold")
    point = read(1, 6000.0, 84.0)
    verdict = judge([point], rated=rated, accept=within(), circumstances=WARM)
    assert verdict.outcome == "pass"
    assert verdict.points[0].hot_amps is None
    assert any("stricter" in caution for caution in verdict.cautions)
    low = judge([read(1, 6000.0, 70.0)], rated=rated, accept=within(), circumstances=WARM)
    assert low.outcome == "fail"
    assert low.reason.endswith("test it cold before turning it away.")


def test_a_cold_run_against_a_cold_rating_needs_no_word() -> None:
    rated = rated_curve(((6000.0, 90.0),), state="cold")
    verdict = judge([read(1, 6000.0, 84.0)], rated=rated, accept=within(), circumstances=COLD)
    assert verdict.outcome == "pass"
    assert verdict.cautions == ()


def test_a_state_not_given_is_taken_as_the_ratings_and_said() -> None:
    for state in ("warm", "cold"):
        rated = rated_curve(((6000.0, 90.0),), state="warm" if state == "warm" else "cold")
        verdict = judge_elsewhere(rows((6000.0, 84.0)), rated=rated, accept=within())
        assert verdict.outcome == "pass"
        assert any(f"taken as {state}, as rated" in c for c in verdict.cautions)


# ---- voltage -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("volts", "outcome"),
    [(13.5, "pass"), (13.4, "pass"), (13.6, "pass"), (13.39, "undecided"), (13.61, "undecided")],
)
def test_a_voltage_farther_off_than_allowed_makes_a_pass_impossible(
    volts: float, outcome: str
) -> None:
    verdict = judged(read(1, 6000.0, 90.0, volts=volts))
    assert verdict.outcome == outcome
    if outcome == "undecided":
        assert f"the voltage was {volts:.2f} V where the test asks for 13.50 V" in verdict.reason
        assert verdict.points[0].why == "voltage"


def test_a_hand_load_may_be_farther_off() -> None:
    wide = Circumstances(state="warm", volts_within=0.3)
    assert judged(read(1, 6000.0, 90.0, volts=13.25), wide).outcome == "pass"


def test_a_unit_that_cannot_reach_the_test_voltage_still_fails() -> None:
    assert judged(read(1, 6000.0, 2.0, volts=12.3)).outcome == "fail"
    held_back = judged(read(1, 6000.0, 52.0, volts=14.37))
    assert held_back.outcome == "undecided", "its own regulator may hold back what it could give"
    assert "the voltage was 14.37 V" in held_back.reason
    just_below = judged(read(1, 6000.0, 79.9, percent=0.1, volts=12.3))
    assert just_below.outcome == "undecided"


@pytest.mark.parametrize(("amps", "outcome"), [(80.5, "undecided"), (70.0, "fail")])
def test_as_read_a_fail_must_hold_with_what_a_wrong_voltage_may_have_cost(
    amps: float, outcome: str
) -> None:
    point = read(1, 6000.0, amps, volts=13.0)
    assert judged(point, decision="simple").outcome == outcome


def test_the_method_may_ask_for_another_voltage_than_rated_with_a_caution() -> None:
    other = Circumstances(state="warm", test_volts=14.0)
    verdict = judged(read(1, 6000.0, 90.0, volts=14.0), other)
    assert verdict.outcome == "pass"
    assert "Tested at 14 V, rated at 13.5 V: the currents are not the same." in verdict.cautions
    assert judged(read(1, 6000.0, 90.0, volts=13.5), other).outcome == "undecided"


def test_points_from_elsewhere_at_another_voltage_are_undecided() -> None:
    points = [MeasuredPoint(6000.0, 90.0, 0.5, volts=12.6)]
    assert judge_elsewhere(points, rated=ONE, accept=within()).outcome == "undecided"
    bare = judge_elsewhere([MeasuredPoint(6000.0, 90.0, volts=12.6)], rated=ONE, accept=within())
    assert bare.outcome == "undecided"
    good = [MeasuredPoint(6000.0, 90.0, 0.5, volts=13.5, u_volts=0.05)]
    verdict = judge_elsewhere(good, rated=ONE, accept=within())
    assert verdict.outcome == "pass"
    assert verdict.points[0].u_amps == pytest.approx(math.hypot(0.5, 0.05))
    assert not any("voltage" in caution for caution in verdict.cautions)


def test_a_voltage_never_measured_is_said_to_be_taken_as_rated() -> None:
    verdict = judged(read(1, 6000.0, 90.0, volts=None))
    assert "The test voltage was not measured: taken as 13.5 V, as rated." in verdict.cautions
    some = judge(
        [read(1, 1500.0, 45.0, volts=None), read(2, 6000.0, 90.0)],
        rated=rated_curve(((1500.0, 45.0), (6000.0, 90.0))),
        accept=within(),
        circumstances=WARM,
    )
    assert any(caution.startswith("At some speeds the voltage") for caution in some.cautions)


# ---- settled -----------------------------------------------------------------------------------


def test_an_unsettled_point_passes_only_if_its_widened_doubt_still_clears_the_limit() -> None:
    wide = read(1, 6000.0, 84.0, settled="no", u_scatter=3.0)
    clear = read(1, 6000.0, 90.0, settled="no", u_scatter=3.0, dof=math.inf)
    for decision in ("guarded", "simple"):
        left = judged(wide, decision=decision)
        assert left.outcome == "undecided"
        assert left.points[0].why == "not settled"
        assert "had not settled" in left.reason
        assert judged(clear, decision=decision).outcome == "pass"
    assert any("Not settled" in caution for caution in judged(clear).cautions)


def test_a_predicted_point_counts_as_a_settled_one_with_its_own_doubt() -> None:
    assert judged(read(1, 6000.0, 84.0, settled="predicted")).outcome == "pass"
    assert judged(read(1, 6000.0, 81.3, settled="predicted"), decision="simple").outcome == "pass"


def test_an_unsettled_point_below_the_limit_fails_as_read_and_is_undecided_when_guarded() -> None:
    point = read(1, 6000.0, 80.0, settled="no", u_scatter=3.0)
    assert judged(point, decision="simple").outcome == "fail"
    assert judged(point).outcome == "undecided"


def test_an_unsettled_point_exactly_on_the_limit_is_no_fail() -> None:
    point = read(1, 6000.0, 81.0, settled="no", u_scatter=3.0)
    assert judged(point, decision="simple").outcome == "undecided"


def test_the_worst_of_several_rows_says_whether_a_speed_settled() -> None:
    rows_here = [read(1, 6000.0, 84.0), read(2, 6000.0, 84.0, settled="no", u_scatter=3.0)]
    verdict = judge(rows_here, rated=ONE, accept=within(), circumstances=WARM)
    assert verdict.points[0].settled == "no"


def test_an_accuracy_not_stated_is_told_with_the_verdict() -> None:
    assert judged(read(1, 6000.0, 90.0)).cautions == ()
    silent = steady_point(
        step=Step(1, 6000.0, "yes"),
        amps=ChannelMean(90.0, 0.1),
        shaft_rpm=ChannelMean(6000.0, 1.0),
        amps_trust=Trust(None, "the clamp"),
        shaft_trust=Trust(Accuracy(absolute=1.0), "the tachometer"),
        speed_slope=Slope(0.002),
    )
    cautions = judged(silent).cautions
    assert "Not known, so not in the doubt: the clamp's accuracy." in cautions


# ---- unsteady ----------------------------------------------------------------------------------


def test_a_speed_where_the_current_came_and_went_is_named() -> None:
    unsteady = Circumstances(state="warm", unsteady_rpm=(3000.0, 6000.0))
    verdict = judged(read(1, 6000.0, 95.0), unsteady)
    assert "Unsteady, the current came and went: 3000 and 6000 rpm." in verdict.cautions
    assert not any("Unsteady" in c for c in judged(read(1, 6000.0, 95.0)).cautions)


def test_an_undecided_verdict_says_what_each_of_its_widths_is() -> None:
    near = judged(read(1, 6000.0, 81.2))
    assert near.outcome == "undecided"
    said = [c for c in near.cautions if c.startswith("± in the sentence")]
    assert len(said) == 1
    assert "1.64 times the standard uncertainty to pass" in said[0]
    assert "beside a reading: 1.96 times" in said[0]
    assert not any("± in" in c for c in judged(read(1, 6000.0, 95.0)).cautions)


def test_the_line_of_a_step_that_came_and_went_never_says_still() -> None:
    point = read(1, 6000.0, 81.2)
    assert "still =" in point_line(point)
    line = point_line(point, unsteady=True)
    assert "unsteady ~" in line
    assert "still" not in line


# ---- begun cold, gone on with warm -------------------------------------------------------------


def _cased(*cases: float | None) -> list[SteadyPoint]:
    return [
        replace(read(step, 6000.0, 95.0), case_c=case_c) for step, case_c in enumerate(cases, 1)
    ]


@pytest.mark.parametrize(
    ("cases", "done", "found"),
    [
        ((26.0, 41.0, 64.0, 66.0), {1, 2}, (26.0, 64.0)),
        ((26.0, 28.0, 41.0, 66.0), {1, 2}, (26.0, 41.0)),
        ((26.0, 28.0, 40.9, 66.0), {1, 2}, None),
        ((26.0, 41.0, 64.0, 66.0), set(), None),
        ((None, None, 64.0, 66.0), {1, 2}, None),
        ((26.0, 41.0, None, None), {1, 2}, None),
    ],
)
def test_a_run_gone_on_with_well_warmer_is_noticed(
    cases: tuple[float | None, ...], done: set[int], found: tuple[float, float] | None
) -> None:
    assert gone_on_warm(_cased(*cases), [frozenset(done)]) == found


def test_a_resume_in_the_journal_is_seen_with_the_steps_there_were() -> None:
    seen = Seen()
    seen.see("resumed", {"steps": [1, 2]})
    assert seen.went_on_after == [frozenset({1, 2})]


def test_begun_cold_and_gone_on_with_warm_is_a_caution_and_changes_no_figure() -> None:
    resumed = Circumstances(state="cold", gone_on_warm_c=(41.0, 64.0))
    plain, told = (judged(read(1, 6000.0, 95.0), here) for here in (COLD, resumed))
    new = set(told.cautions) - set(plain.cautions)
    assert len(new) == 1
    (words,) = new
    assert words.startswith("Begun cold, gone on with warm: the case was at 41 °C")
    assert "64 °C" in words
    assert told.points == plain.points


@pytest.mark.parametrize(
    ("point", "circumstances", "words"),
    [
        (read(1, 6000.0, 86.0, percent=0.2), COLD, "cold ~"),
        (read(1, 6000.0, 81.2), WARM, "too close ~"),
        (read(1, 6000.0, 95.0, volts=14.2), WARM, "voltage ~"),
        (read(1, 6000.0, 81.2, settled="no"), WARM, "moving ~"),
    ],
)
def test_a_plain_line_says_what_keeps_a_speed_undecided(
    point: SteadyPoint, circumstances: Circumstances, words: str
) -> None:
    verdict = judged(point, circumstances)
    assert verdict.points[0].outcome == "undecided"
    assert table_lines(verdict)[1].endswith(f" {words}")


@pytest.mark.parametrize(
    ("volts", "holds", "says"),
    [
        (13.89, True, "The load holds the voltage, so the voltmeter or its leads read high"),
        (13.05, True, "The load takes nothing below the test voltage, so the unit does not raise"),
        (13.89, False, "Hold it within 0.1 V and read again."),
    ],
)
def test_a_wrong_voltage_asks_of_the_operator_only_what_his_hands_can_do(
    volts: float, holds: bool, says: str
) -> None:
    off = replace(read(1, 6000.0, 90.0), volts=volts)
    verdict = judged(off, replace(WARM, load_holds=holds))
    assert verdict.outcome == "undecided"
    assert verdict.what_next.startswith(says)
    assert not in_language(language("de"), verdict.reason).lang
