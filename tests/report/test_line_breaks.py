"""Where a line may end: figures keep their units, endless words may break."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.report.html_paper import html_of
from acquire.report.line_breaks import LONGEST_WORD, MAY_BREAK, shortened, with_breaks
from acquire.report.material import material_of
from acquire.report.papers import report_paper
from tests.report.runs import Order, make_run, settings


@pytest.mark.parametrize(
    ("words", "tied"),
    [
        ("a chance of < 0.1 %", "a chance of <\u00a00.1\u00a0%"),
        ("33.8 A where 40,5 A is", "33.8\u00a0A where 40,5\u00a0A is"),
        ("45.2 ±0.3", "45.2\u00a0±0.3"),
        ("1500 min⁻¹ und 20 °C", "1500\u00a0min⁻¹ und 20\u00a0°C"),
        ("5 Autos", "5 Autos"),
        ("2 A/rpm", "2 A/rpm"),
    ],
)
def test_a_figure_is_never_parted_from_its_unit(words: str, tied: str) -> None:
    assert with_breaks(words) == tied


@given(st.text(alphabet="ab -\u00e4Z9%A", max_size=300))
def test_no_word_is_longer_than_a_line_and_nothing_is_lost(words: str) -> None:
    laid = with_breaks(words)
    assert laid.replace(MAY_BREAK, "").replace("\u00a0", " ") == words
    parts = laid.replace(MAY_BREAK, " ").replace("\u00a0", " ").replace("-", " ").split()
    assert max(map(len, parts), default=0) <= LONGEST_WORD


def test_words_of_common_length_are_left_whole() -> None:
    for word in ("Lichtmaschinenspannungsregler", "2026-11-25T163235Z-J-2107-jvmn"):
        assert with_breaks(word) == word


def test_a_line_is_shortened_where_it_shows() -> None:
    assert shortened("two\n lines", 20) == "two lines"
    assert shortened("x" * 21, 20) == "x" * 19 + "…"


def test_an_endless_word_may_break_in_a_browser(tmp_path: Path) -> None:
    run = make_run(tmp_path, Order(unit="W" * 400))
    text = html_of(report_paper(material_of(run, settings())))
    assert "WWWWWW<wbr>WWWWWW" in text
    assert "W" * 31 not in text.partition("<main>")[2]
