"""The figures of a sentence tell reading and limit apart, in English and in German."""

from __future__ import annotations

import re

import pytest

from acquire.judge.circumstances import Circumstances
from acquire.judge.elsewhere import judge_elsewhere
from acquire.judge.verdict import judge
from acquire.judge.verdict_words import BEGIN_ANEW
from acquire.report.language import language
from acquire.report.recorded_words import in_language
from tests.judge.benchwork import rated_curve, read, rows, within

ONE = rated_curve(((1500.0, 45.0),))
SIMPLE = within(decision="simple")


@pytest.mark.parametrize(
    ("amps", "figures", "german"),
    [
        (40.48, ("40.48", "40.50"), "40,48 A, erlaubt sind 40,50 A"),
        (40.4991, ("40.499", "40.500"), "40,499 A, erlaubt sind 40,500 A"),
        (40.4, ("40.4", "40.5"), "40,4 A, erlaubt sind 40,5 A"),
        (40.5, ("40.5", "40.5"), "40,5 A, erlaubt sind 40,5 A"),
        (40.52, ("40.52", "40.50"), "40,52 A, erlaubt sind 40,50 A"),
        (52.0, ("52.0", "40.5"), "52,0 A, erlaubt sind 40,5 A"),
    ],
)
def test_reading_and_limit_are_never_the_same_unless_they_are(
    amps: float, figures: tuple[str, str], german: str
) -> None:
    verdict = judge_elsewhere(rows((1500.0, amps), u_amps=None), rated=ONE, accept=SIMPLE)
    assert verdict.outcome == ("fail" if amps < 40.5 else "pass")
    said = re.search(r"gives (\S+) A where (\S+) A is allowed", verdict.sentence)
    assert said is not None, verdict.sentence
    assert said.groups() == figures
    in_german = in_language(language("de"), verdict.sentence)
    assert not in_german.lang
    assert german in in_german.text


def test_a_doubtful_reading_and_a_cold_one_are_told_apart_too() -> None:
    doubtful = judge_elsewhere(rows((1500.0, 40.48)), rated=ONE, accept=within())
    assert "40.48 A against 40.50 A allowed" in doubtful.sentence
    cold = Circumstances(state="cold")
    amps = 40.5
    for _ in range(60):  # to where what is left warm rounds to what is allowed
        verdict = judge([read(1, 1500.0, amps)], rated=ONE, accept=SIMPLE, circumstances=cold)
        hot = verdict.points[0].hot_amps
        assert hot is not None
        amps += 40.48 - hot
    assert verdict.outcome == "undecided"
    assert "about 40.48 A warm, where 40.50 A is allowed warm" in verdict.sentence


def test_a_limit_that_is_off_by_the_rounding_of_the_computer_gets_no_long_figures() -> None:
    limit = 77.0 * 0.9
    verdict = judge_elsewhere(
        rows((3000.0, limit + 1e-12), u_amps=None),
        rated=rated_curve(((3000.0, 77.0),)),
        accept=SIMPLE,
    )
    assert "69.3 A where 69.3 A is allowed" in verdict.sentence


def test_a_run_that_cannot_go_on_is_not_told_to() -> None:
    refused = Circumstances(stopped="another system.", never_goes_on=True)
    verdict = judge([], rated=ONE, accept=SIMPLE, circumstances=refused)
    assert verdict.outcome == "stopped"
    assert "resume" not in verdict.reason
    assert verdict.what_next == BEGIN_ANEW
    assert not in_language(language("de"), BEGIN_ANEW).lang
    stopped = Circumstances(stopped="the operator typed stop")
    assert "resume" in judge([], rated=ONE, accept=SIMPLE, circumstances=stopped).reason
