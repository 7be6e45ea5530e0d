"""Every page as text at 80 x 24 and 120 x 40, compared with what was looked at and found right.

STEADYAMPS_WRITE_VIEWS=1 writes the texts anew; look at them before they are kept.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from acquire.record.seal_words import SealWords
from acquire.screens import made_up
from acquire.screens.look import Look
from acquire.screens.made_up_rig import instruments_page
from acquire.screens.match_figures import answer
from acquire.screens.match_view import match_rows
from acquire.screens.past_view import past_rows
from acquire.screens.ready_view import ready_rows
from acquire.screens.result_view import result_rows
from acquire.screens.rows import Row, text_of, width_of
from acquire.screens.sweep_view import sweep_rows

BROKEN = SealWords("broken", "NOT as sealed: curve.csv, verdict.json.")
KEPT = Path(__file__).parent / "views"
FULL, PLAIN = Look(), Look(ascii=True)
View = Callable[[int, int, Look], Sequence[Row]]


def match_view(width: int, height: int, look: Look, first: int = 0) -> Sequence[Row]:
    from acquire.candidates import candidate_from

    typed = {"engine_mm": "150", "unit_mm": "60", "idle": "700", "cruise": "1400..2200",
             "top": "3600", "need": "40"}  # fmt: skip
    units = [candidate_from("small-frame-14v-90a"), candidate_from("slow-frame-14v-150a")]
    return match_rows(
        typed=typed, at=3, units=[one.title for one in units], result=answer(typed, units),
        wants="", width=width, height=height, first=first,
    )  # fmt: skip


VIEWS: dict[str, View] = {
    "ready": lambda w, h, look: ready_rows(made_up.ready(), w, h, look),
    "ready-to-begin": lambda w, h, look: ready_rows(made_up.ready(is_ready=True), w, h, look),
    "sweep": lambda w, h, look: sweep_rows(made_up.sweep(), w, h, look),
    "sweep-hands": lambda w, h, look: sweep_rows(made_up.sweep(hands="MORE LOAD"), w, h, look),
    "sweep-typing": lambda w, h, look: sweep_rows(made_up.sweep(typing=True), w, h, look),
    "sweep-check": lambda w, h, look: sweep_rows(made_up.check(), w, h, look),
    "sweep-notes": lambda w, h, look: sweep_rows(
        made_up.sweep(notes=("An earlier one.", made_up.NOTE)), w, h, look
    ),
    "sweep-stopping": lambda w, h, look: sweep_rows(made_up.sweep(stopping=True), w, h, look),
    "result": lambda w, h, look: result_rows(made_up.result(), w, h, look),
    "result-broken": lambda w, h, look: result_rows(
        replace(made_up.result(), seal=BROKEN), w, h, look, live=False
    ),
    "past": lambda w, h, look: past_rows(
        replace(made_up.past(), marked="2026-11-25T101500Z-J-1044-kqzd"), w, h
    ),
    "past-searching": lambda w, h, look: past_rows(
        replace(
            made_up.past(), search="outcome:fail A-1", found_for="outcome:fail A-1", searching=True
        ),
        w,
        h,
    ),
    "match": match_view,
    "instruments": lambda w, h, look: instruments_page(w, h),
}
SIZES = [(80, 24), (120, 40)]


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
@pytest.mark.parametrize("name", VIEWS)
def test_a_page_looks_as_it_was_found_right(name: str, size: tuple[int, int]) -> None:
    width, height = size
    rows = VIEWS[name](width, height, FULL)
    text = "\n".join(text_of(one).rstrip() for one in rows) + "\n"
    kept = KEPT / f"{name}-{width}x{height}.txt"
    if os.environ.get("STEADYAMPS_WRITE_VIEWS"):
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(text, encoding="utf-8")
    assert text == kept.read_text(encoding="utf-8")


@pytest.mark.parametrize("size", [(80, 24), (97, 31), (120, 40), (200, 60)])
@pytest.mark.parametrize("look", [FULL, PLAIN], ids=["full", "plain signs"])
@pytest.mark.parametrize("name", VIEWS)
def test_a_page_fits_its_window_to_the_cell(name: str, size: tuple[int, int], look: Look) -> None:
    width, height = size
    rows = VIEWS[name](width, height, look)
    assert len(rows) <= height
    assert max(width_of(one) for one in rows) <= width


@pytest.mark.parametrize("name", [name for name in VIEWS if name.startswith("sweep")])
def test_in_plain_signs_no_page_needs_a_special_font(name: str) -> None:
    """Only the signs of units and of doubt remain, which ISO 8859-1 has."""
    rows = VIEWS[name](80, 24, PLAIN)
    text = "".join(text_of(one) for one in rows)
    assert set(text) - {chr(code) for code in range(128)} <= set("°±·")


def test_the_sentence_comes_first_on_every_page() -> None:
    for name, view in VIEWS.items():
        first = text_of(view(80, 24, FULL)[0])
        assert first.strip(), name
        assert len(first.split()) >= 3, name


def test_what_is_said_by_colour_is_said_by_a_sign_too() -> None:
    """Every piece in the ink of good, warning or bad carries a sign or a word of its own."""
    signs = ("=", "^", "v ", "~", "!", "_", "STOP", "SIMULATED", "sim.", "no live value", "none")
    for name, view in VIEWS.items():
        for one in view(80, 24, FULL):
            for bit in one:
                if bit.ink in ("good", "bad") and bit.text.strip():
                    line = text_of(one)
                    assert any(sign in line for sign in signs), (name, line)


def test_a_stale_value_is_never_shown_as_if_live() -> None:
    text = "\n".join(text_of(one) for one in VIEWS["sweep"](80, 24, FULL))
    assert "no live value" in text
    assert "! stale 5 s" in text


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
def test_a_check_at_speed_shows_its_whole_question_a_line_to_type_in_and_its_time(
    size: tuple[int, int],
) -> None:
    rows = [text_of(one) for one in sweep_rows(made_up.check(), *size, FULL)]
    text = " ".join(" ".join(rows).split())
    assert "about 10 % of rated (light, about 10 % of rated): [V]" in text
    assert "[14._" in text
    assert "[Enter] takes it" in text
    assert "An empty line leaves it out; in 142 s the sweep goes on without it." in text
    assert not any(row.rstrip().endswith(">") for row in rows), "nothing is cut off"


def test_while_letters_are_an_answer_no_letter_is_offered_as_a_key() -> None:
    strip = text_of(sweep_rows(made_up.check(), 80, 24, FULL)[-1])
    assert "[space] STOP" in strip
    for offered in ("[t]", "[k]", "[n]", "[h]", "[i]"):
        assert offered not in strip


def test_the_end_of_a_long_answer_is_seen_as_it_is_typed() -> None:
    typing = replace(made_up.check().typing, typed="a" * 55 + "end")  # type: ignore[type-var]
    facts = replace(made_up.check(), typing=typing)
    assert any("end_" in text_of(one) for one in sweep_rows(facts, 80, 24, FULL))


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
def test_the_page_does_not_jump_when_the_sentence_grows_by_a_row(size: tuple[int, int]) -> None:
    short = replace(made_up.sweep(), sentence="Turning to 2000 rpm. About 3 s more.")
    tops = [
        next(n for n, one in enumerate(rows) if "63.1" in text_of(one) or "█" in text_of(one))
        for rows in (sweep_rows(short, *size, FULL), sweep_rows(made_up.sweep(), *size, FULL))
    ]
    assert tops[0] == tops[1]


def test_all_answers_of_a_match_can_be_reached_in_a_small_window() -> None:
    """Second candidate, pitch diameters: what stands below is scrolled to."""
    whole = "\n".join(text_of(one) for one in match_view(80, 60, FULL))
    wanted = ("2. 14 V 150 A", "pitch diameters")
    assert all(words in whole for words in wanted)
    seen = ""
    for first in range(0, 80, 8):
        rows = match_view(80, 24, FULL, first=first)
        assert len(rows) <= 24
        seen += "\n".join(text_of(one)[50:] for one in rows)
    assert all(words in seen for words in wanted)
    assert "[PgDn]" in text_of(match_view(80, 24, FULL)[-3])
