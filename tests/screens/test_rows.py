"""Rows: exact widths whatever is written in them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from acquire.screens.rows import (
    EMPTY,
    beside,
    cells,
    column,
    cut,
    fit,
    in_plain_signs,
    offer,
    row,
    scrolled,
    spread,
    strips_of,
    tail,
    text_of,
    width_of,
    wrapped,
)

TEXTS = st.text(st.characters(exclude_categories=("C", "M", "Zl", "Zp")), max_size=60)


@given(st.lists(TEXTS, max_size=5), st.integers(0, 80))
def test_a_fitted_row_has_exactly_its_width(texts: list[str], width: int) -> None:
    """Counted by the width table of the terminal library, wide signs as two."""
    assert cell_len(text_of(fit(row(*texts), width))) == width


@given(st.lists(TEXTS, max_size=5), st.integers(1, 80))
def test_what_is_cut_off_leaves_a_mark(texts: list[str], width: int) -> None:
    whole = row(*texts)
    short = cut(whole, width)
    assert width_of(short) <= width
    assert short == whole or text_of(short).endswith(">")


def test_an_action_is_a_word_with_its_letter_set_off() -> None:
    words = offer("match [e]ngine", "match")
    assert text_of(words) == "match [e]ngine"
    assert [bit.act for bit in words] == ["match"] * 3
    assert [bit.text for bit in words if bit.ink == "key"] == ["[e]"]


def test_an_action_that_cannot_be_done_shows_no_key() -> None:
    words = offer("[b]egin", "begin", on=False)
    assert text_of(words) == "begin"
    assert all(not bit.act for bit in words)


def test_two_blocks_side_by_side_are_as_high_as_the_higher() -> None:
    left, right = [row("a"), row("b"), row("c")], [row("x")]
    rows = [text_of(one).rstrip() for one in beside(left, right, left_width=4, gap=1)]
    assert rows == ["a    x", "b", "c"]


def test_what_stands_right_gives_way_to_nothing() -> None:
    assert text_of(spread(row("a long sentence"), row("load on 6 s"), 20)) == "a long > load on 6 s"


def test_offers_take_as_many_rows_as_they_need() -> None:
    offers = [offer(f"[{n}] some words", "x") for n in range(6)]
    rows = strips_of(offers, 40)
    assert len(rows) == 3
    assert all(width_of(one) <= 40 for one in rows)


@given(st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=300))
def test_wrapping_loses_no_word(text: str) -> None:
    said = " ".join(text_of(one).strip() for one in wrapped(text, 40))
    assert said.replace(" ", "") == "".join(text.split())


def test_scrolling_never_leaves_the_text() -> None:
    rows = [row(str(n)) for n in range(10)]
    assert [text_of(one) for one in scrolled(rows, 4, 99)] == ["6", "7", "8", "9"]
    assert [text_of(one) for one in scrolled(rows, 4, -5)] == ["0", "1", "2", "3"]
    assert scrolled(rows[:2], 4, 1) == rows[:2]
    assert EMPTY == ()


@given(st.text(max_size=30), st.integers(1, 20))
def test_where_one_types_the_end_is_seen_whatever_the_signs_are(text: str, width: int) -> None:
    shown = tail(text, width)
    assert text.endswith(shown)
    assert cells(shown) <= width
    assert len(shown) == len(text) or cells(text[-len(shown) - 1 :]) > width


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("47.1 ±0.5   40.5", "47.1 +-0.5  40.5"),
        ("±0.5  ", "+-0.5 "),
        ("61 °C (43 %)", "61  C (43 %)"),
        ("2 of 4 · about 40 s left", "2 of 4 - about 40 s left"),
        ("the doubt of ±0.9 A.", "the doubt of +-0.9 A."),
        ("Grüße, 3³", "Gru?e, 33"),
    ],
)
def test_in_plain_signs_columns_stay_and_nothing_but_ascii_is_left(text: str, plain: str) -> None:
    assert text_of(in_plain_signs(row((text, "strong")))) == plain
    assert in_plain_signs(row("still"))[0].text == "still"


def test_zero_has_no_minus() -> None:
    assert column(-0.04, 6) == "   0.0"
    assert column(-0.04, 6, sign=True) == "  +0.0"
    assert (column(-0.06, 6), column(5.24, 0), column(None, 3)) == ("  -0.1", "5.2", "   ")
