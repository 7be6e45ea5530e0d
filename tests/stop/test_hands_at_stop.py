"""What hands are told while a rig comes to rest; an opened pile is seen by the voltage."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from acquire.bench import BenchView
from acquire.hands_at_stop import HandsAtStop
from acquire.stop_path import EMERGENCY, OPEN_PILE, TO_IDLE, StopReason, StopReport
from acquire.sweep.commands import HandsOn
from drivers.readings import Quality, Reading


class Hand:
    def __init__(self) -> None:
        self.heard: list[str] = []
        self.moved = 0

    def told(self, words: HandsOn, t_s: float) -> None:
        assert t_s >= 0
        self.heard.append(words.words)

    def moves(self, t_s: float) -> None:
        self.moved += 1


def at_stop(
    *, load_on: bool = True, by_hand: bool = True
) -> tuple[HandsAtStop, BenchView, Hand, list[str]]:
    view, hand, noted = BenchView(load_on=load_on), Hand(), []

    def note(kind: str, data: Mapping[str, object], t_s: float) -> None:
        noted.append(f"{kind}: {data.get('words', data.get('on'))}")

    return HandsAtStop(view, by_hand=by_hand, hand=hand, note=note), view, hand, noted


def volts(*values: float) -> list[Reading]:
    return [Reading("volts", 0.1 * n, value) for n, value in enumerate(values)]


def test_a_voltage_that_rises_is_a_pile_that_was_opened_and_one_that_falls_is_not() -> None:
    """13.5 V under a pile; light running is at 14.2 V. A slower shaft brings the voltage down."""
    hands, view, _, noted = at_stop()
    report = StopReport(StopReason("operator", "the space bar was pressed."), 0.0)
    hands.look(report, volts(13.5, 13.48, 13.2, 12.6, 12.1, 12.15), 1.0)
    assert hands.pile_closed
    hands.look(
        report, [Reading("volts", 1.0, None, Quality.LINK_LOST), Reading("amps", 1.0, 0.0)], 1.1
    )
    assert hands.pile_closed
    hands.look(report, volts(12.2, 12.5), 1.2)
    assert not hands.pile_closed
    assert (view.load_on, view.load_since_s) == (False, 1.2)
    assert noted == ["load noticed: False"]


@pytest.mark.parametrize(("load_on", "by_hand"), [(False, True), (True, False)])
def test_a_pile_that_is_open_or_a_load_that_is_commanded_is_nothing_for_hands(
    load_on: bool, by_hand: bool
) -> None:
    hands, view, _, _ = at_stop(load_on=load_on, by_hand=by_hand)
    assert not hands.pile_closed
    report = StopReport(StopReason("complete", "all steps are over"), 0.0)
    hands.last_call(report, 5.0)
    assert report.events == []
    assert view.hands is None


def test_hands_are_told_once_what_they_must_do_and_the_rest_is_for_all_to_see() -> None:
    hands, view, hand, noted = at_stop()
    report = StopReport(StopReason("operator", "the space bar was pressed."), 0.0)
    for words in (EMERGENCY, TO_IDLE, TO_IDLE, OPEN_PILE):
        report.hands = words
        hands.look(report, [], 1.0)
    assert hand.heard == [TO_IDLE, OPEN_PILE]
    assert noted == [f"hands: {TO_IDLE}", f"hands: {OPEN_PILE}"]
    assert hand.moved == 4
    assert view.hands == HandsOn(OPEN_PILE, "little by little")


def test_a_pile_left_closed_is_the_last_word_of_the_run() -> None:
    hands, view, _, _ = at_stop()
    report = StopReport(StopReason("complete", "all steps are over"), 0.0)
    hands.last_call(report, 5.0)
    assert [(event.words, event.ok) for event in report.events] == [
        ("OPEN THE PILE: the run is over, and it was not seen to be opened.", False)
    ]
    assert report.hands == OPEN_PILE
    assert view.hands is not None
    report.hands = EMERGENCY
    hands.last_call(report, 6.0)
    assert report.hands == EMERGENCY, "that goes first"
