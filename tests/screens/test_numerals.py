"""Large figures: every sign its own, all of one height."""

from __future__ import annotations

from itertools import combinations
from typing import get_args

import pytest

from acquire.screens.numerals import Size, large, rows_of
from acquire.sweep.commands import HandsOn

FIGURES = "0123456789.-+"
HANDS = ("THROTTLE TO 1500", "TURN TO 6000 RPM", "MORE LOAD", "LESS LOAD", "CLOSE THE PILE",
         "OPEN THE PILE", "HOLD IT THERE", "LET THE PILE COOL", "EMERGENCY STOP NOW")  # fmt: skip


@pytest.mark.parametrize("size", get_args(Size))
def test_no_two_figures_look_alike(size: Size) -> None:
    for one, other in combinations(FIGURES, 2):
        assert large(one, size) != large(other, size), (one, other)


@pytest.mark.parametrize("size", get_args(Size))
def test_every_line_of_a_figure_has_one_width(size: Size) -> None:
    lines = large("-12.34 5", size)
    assert len(lines) == rows_of(size)
    assert len({len(line) for line in lines}) == 1


def test_no_two_letters_look_alike() -> None:
    letters = "ABCDEFGHIJKLMNPQRSTUVWXYZ"
    for one, other in combinations(letters, 2):
        assert large(one) != large(other), (one, other)


@pytest.mark.parametrize("words", HANDS)
def test_what_the_hands_must_do_fits_eighty_columns(words: str) -> None:
    assert len(large(HandsOn(words).words)[0]) <= 78


def test_seven_segments_are_those_of_every_pocket_calculator() -> None:
    """8 has all seven segments lit, 1 the two on the right, 0 all but the middle one."""
    assert large("8", glyphs="ascii") == (" _ ", "|_|", "|_|")
    assert large("1", glyphs="ascii") == ("   ", "  |", "  |")
    assert large("0", glyphs="ascii") == (" _ ", "| |", "|_|")


def test_words_in_plain_signs_stay_plain() -> None:
    assert "".join(large("MORE LOAD", glyphs="ascii")).isascii()
