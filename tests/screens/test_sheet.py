"""Only what changed is sent: proved against a cell by cell comparison."""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from acquire.screens.inks import DARK, style_of_bit
from acquire.screens.rows import Bit, Ink, Row, clean, fit, row, text_of
from acquire.screens.sheet import changed_columns, joined

INKS: list[Ink] = ["plain", "strong", "bad"]
BITS = st.builds(Bit, st.text("ab =", min_size=1, max_size=6), st.sampled_from(INKS))
ROWS = st.lists(BITS, max_size=5).map(tuple)


def cells(one: Row, width: int) -> list[tuple[str, str]]:
    """Sign and ink of each column; the ink of a blank does not show."""
    out: list[tuple[str, str]] = []
    for bit in fit(one, width):
        out += [(sign, "" if bit.text.isspace() else bit.ink) for sign in bit.text]
    return out


@given(ROWS, ROWS)
def test_the_columns_that_differ_lie_inside_and_reach_both_ends(old: Row, new: Row) -> None:
    width = 20
    differ = [n for n in range(width) if cells(old, width)[n] != cells(new, width)[n]]
    span = changed_columns(old, new, width)
    if not differ:
        assert span is None
    else:
        assert span == (differ[0], differ[-1] + 1)


@given(st.lists(st.builds(Bit, st.text(max_size=20)), max_size=4).map(tuple))
def test_no_text_from_a_file_or_a_wire_can_steer_the_terminal(one: Row) -> None:
    shown = text_of(clean(one))
    steering = {"Cc", "Cf", "Cs", "Zl", "Zp"}
    assert not {unicodedata.category(sign) for sign in shown} & steering
    assert clean((Bit("\x1b[2J"),)) != (Bit("\x1b[2J"),)


def test_one_figure_changing_is_one_column() -> None:
    assert changed_columns((Bit("63.1 A"),), (Bit("63.2 A"),), 80) == (3, 4)


def test_a_longer_row_is_cut_before_it_is_compared() -> None:
    assert text_of(fit((Bit("x" * 90),), 80)).endswith(">")
    assert changed_columns((Bit("x" * 90),), (Bit("x" * 95),), 80) is None


@given(st.lists(st.builds(Bit, st.text("ab =", min_size=1, max_size=6),
                          st.sampled_from([*INKS, "picked"]), st.sampled_from(["", "begin"])),
                max_size=6).map(tuple))  # fmt: skip
def test_a_row_in_fewer_pieces_looks_the_same_and_is_clicked_at_the_same_places(one: Row) -> None:
    def looks(row: Row) -> list[tuple[str, str, str]]:
        return [
            (sign, "" if sign == " " and bit.ink != "picked" else bit.ink, bit.act)
            for bit in row
            for sign in bit.text
        ]

    few = joined(one)
    assert looks(few) == looks(one)
    assert len(few) <= len(one)


def test_blanks_between_figures_are_no_pieces_of_their_own() -> None:
    """Each piece is sent with its colours, some forty bytes; a blank has none to show."""
    one = row(("47.1", "strong"), "     ", ("62.9", "strong"), " ", ("still", "good"), "    ")
    assert [bit.text for bit in joined(one)] == ["47.1     62.9 ", "still    "]
    styles = [str(style_of_bit(DARK, bit)) for bit in joined(one)]
    assert len(set(styles)) == 2
