"""What is said of a stop: what must be pressed first, and nothing at rest that was not seen so."""

from __future__ import annotations

import pytest

from acquire.stop_path import EMERGENCY, OPEN_PILE, TO_IDLE, StopReason, StopReport
from acquire.stop_words import left_to_do, rest_sentence, stopping_sentence


def report(
    hands: str = "", *, last_rpm: float | None = None, stands: bool = False, kind: str = "operator"
) -> StopReport:
    reason = StopReason(kind, "the space bar was pressed.")
    return StopReport(reason, 0.0, hands=hands, last_rpm=last_rpm, stands=stands)


def test_the_top_line_says_press_before_it_says_why() -> None:
    assert stopping_sentence(report()) == "Stopping: the space bar was pressed."
    assert stopping_sentence(report(EMERGENCY, last_rpm=1486.4)).startswith(
        "PRESS THE EMERGENCY STOP. The shaft does not come to rest: 1486 rpm."
    )
    assert "not seen" in stopping_sentence(report(EMERGENCY))
    complete = stopping_sentence(report(kind="complete"))
    assert complete == "All speeds are measured; the rig is brought to rest."
    assert stopping_sentence(report(EMERGENCY, kind="complete")).startswith("PRESS")


@pytest.mark.parametrize("hands", ["", EMERGENCY, TO_IDLE, OPEN_PILE])
@pytest.mark.parametrize("last_rpm", [None, 0.0, 537.0])
def test_a_rig_not_seen_to_stand_still_is_not_called_at_rest(
    hands: str, last_rpm: float | None
) -> None:
    words = rest_sentence(report(hands, last_rpm=last_rpm))
    assert "at rest" not in words
    assert ("537 rpm" in words) == (last_rpm == 537.0)
    assert ("not read" in words) == (last_rpm is None)
    assert "lear until it stands still" in words or hands == OPEN_PILE


def test_a_rig_seen_to_stand_still_is_at_rest_and_leaves_nothing_to_do() -> None:
    at_rest = report(stands=True, last_rpm=12.0)
    assert rest_sentence(at_rest) == "The rig is at rest."
    assert left_to_do(at_rest, stopped=True) == ("", "")


def test_what_is_left_to_hands_is_told_large_but_a_test_ended_by_hand_is_not_shouted_at() -> None:
    assert left_to_do(report(EMERGENCY, last_rpm=1486.0), stopped=True) == (
        EMERGENCY,
        "PRESS THE EMERGENCY STOP: the shaft was last seen at 1486 rpm."
        " Keep clear until it stands still.",
    )
    assert left_to_do(report(TO_IDLE), stopped=True)[0] == TO_IDLE
    assert left_to_do(report(TO_IDLE, kind="complete"), stopped=False)[0] == ""
    assert left_to_do(report(OPEN_PILE, kind="complete"), stopped=False)[0] == OPEN_PILE
