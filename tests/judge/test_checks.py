"""Checks besides the curve."""

from __future__ import annotations

import pytest

from acquire.judge.checks import Answer, BadCheckAnswer, evaluate, evaluate_all
from acquire.judge.verdict import judge
from profiles.method import Check
from tests.judge.benchwork import rated_curve, read, within

REGULATING = Check.model_validate(
    {"name": "regulating voltage", "in": "V", "low": 13.9, "high": 14.7}
)
LAMP = Check(name="charge lamp goes out")
NOISE = Check(name="noise", kind="note")
GOOD = [read(n, rpm, amps) for n, (rpm, amps) in enumerate(
    [(1500.0, 45.2), (2000.0, 60.0), (3000.0, 77.0), (6000.0, 90.0)], 1)]  # fmt: skip


@pytest.mark.parametrize(
    ("answer", "outcome"),
    [(13.9, "pass"), (14.7, "pass"), (14.3, "pass"), (13.89, "fail"), (14.71, "fail"),
     (None, "not done"), ("  ", "not done")],
)  # fmt: skip
def test_a_number_passes_inside_its_limits_and_on_them(answer: Answer, outcome: str) -> None:
    assert evaluate(REGULATING, answer).outcome == outcome


def test_the_words_of_a_number_name_reading_and_limits() -> None:
    words = "regulating voltage: 15.2 V, outside 13.9 to 14.7 V"
    assert evaluate(REGULATING, 15.2).words == words
    insulation = Check.model_validate({"name": "insulation", "in": "MΩ", "low": 1.0})
    assert evaluate(insulation, 5).words == "insulation: 5 MΩ, within at least 1 MΩ"


def test_a_yes_no_and_a_note() -> None:
    assert [evaluate(LAMP, answer).outcome for answer in (True, False, None)] == [
        "pass", "fail", "not done",
    ]  # fmt: skip
    assert evaluate(NOISE, "slight whine").outcome == "noted"
    assert evaluate(NOISE).outcome == "not done"


@pytest.mark.parametrize(
    ("check", "answer"),
    [
        (REGULATING, True),
        (REGULATING, "14 V"),
        (REGULATING, float("nan")),
        (LAMP, 1.0),
        (LAMP, "y"),
    ],
)
def test_an_answer_of_the_wrong_kind_is_refused(check: Check, answer: Answer) -> None:
    with pytest.raises(BadCheckAnswer, match=check.name):
        evaluate(check, answer)


def test_the_outcome_of_a_run_is_the_worse_of_curve_and_checks() -> None:
    failed = evaluate_all([REGULATING, LAMP], {"regulating voltage": 15.2})
    verdict = judge(GOOD, rated=rated_curve(), accept=within(), checks=failed)
    assert verdict.outcome == "fail"
    assert verdict.reason == (
        "Fails. regulating voltage: 15.2 V, outside 13.9 to 14.7 V. Put that right and test again."
    )
    assert {result.outcome for result in verdict.points} == {"pass"}
    data = verdict.to_data()["checks"]
    assert isinstance(data, list)
    assert [check["outcome"] for check in data] == ["fail", "not done"]


def test_a_check_left_out_is_said_and_changes_nothing_unless_the_method_insists() -> None:
    undone = evaluate_all([LAMP], {})
    verdict = judge(GOOD, rated=rated_curve(), accept=within(), checks=undone)
    assert verdict.outcome == "pass"
    assert "Not done: charge lamp goes out." in verdict.cautions
    insisted = evaluate_all([Check(name="insulation", needed=True)], {})
    strict = judge(GOOD, rated=rated_curve(), accept=within(), checks=insisted)
    assert strict.outcome == "undecided"
    assert "not done: insulation" in strict.reason


def test_a_failed_check_fails_a_unit_without_a_rating_too() -> None:
    failed = evaluate_all([LAMP], {"charge lamp goes out": False})
    verdict = judge(GOOD, rated=None, accept=None, checks=failed)
    assert verdict.outcome == "fail"
    assert judge(GOOD, rated=None, accept=None).outcome == "not judged"
