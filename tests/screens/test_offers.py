"""Nothing that is offered is cut off at 80 columns, and every key that does something answers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from textual.pilot import Pilot

from acquire.screens import made_up, result_view
from acquire.screens.app import BenchApp
from acquire.screens.boxes import ChooseBox
from acquire.screens.look import Look
from acquire.screens.past_view import past_rows
from acquire.screens.ready_view import ready_rows
from acquire.screens.result_page import ResultPage
from acquire.screens.result_view import result_rows
from acquire.screens.rows import Ink, Row, text_of, wrapped
from acquire.screens.sweep_view import sweep_rows
from tests.screens.stand_in import KeeperStandIn, app_with
from tests.screens.test_keys import PAGES, run_app, shown


@pytest.fixture
def keeper(tmp_path: Path) -> KeeperStandIn:
    return KeeperStandIn(tmp_path / "shelf")


@pytest.mark.parametrize("key", ["t", "d", "r", "m", "a"])
def test_a_box_to_choose_from_offers_both_ways_out_in_full(key: str, keeper: KeeperStandIn) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await pilot.press(key)
        assert isinstance(app.screen, ChooseBox)
        text = shown(app)
        for words in ("[up] [down] choose", "[Enter] keeps it", "[Esc] leaves it as it was"):
            assert words in text
        assert len(text.splitlines()) <= 24

    run_app(app_with(keeper), steps)


def test_a_simulated_run_is_marked_whatever_its_outcome() -> None:
    past = made_up.past()
    entries = tuple(replace(one, simulated=True) for one in past.entries)
    rows = [text_of(one) for one in past_rows(replace(past, entries=entries), 80, 24)]
    assert sum(one.rstrip().endswith(" sim.") for one in rows) == len(entries)


@pytest.mark.parametrize("page", [name for name in PAGES if name not in ("sweep", "note")])
def test_a_view_that_is_written_to_a_file_is_told_on_the_page(
    page: str, keeper: KeeperStandIn
) -> None:
    """Cautions, help, instruments without a rig and match too."""

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        PAGES[page](app)
        await pilot.pause(0.1)
        await pilot.press("f")
        assert "Written to" in shown(app)
        assert list((keeper.shelf / "views").glob("*.svg"))

    run_app(app_with(keeper), steps)


@pytest.mark.parametrize("width", [80, 120])
def test_the_file_key_is_offered_where_it_works(width: int) -> None:
    for rows in (
        ready_rows(made_up.ready(), width, 24, Look()),
        sweep_rows(made_up.sweep(), width, 24, Look()),
    ):
        assert "[f]ile" in text_of(rows[-1])
        assert "[?]" in text_of(rows[-1]), "in one row"


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize(
    ("why", "word"),
    [
        ("doubt", "~ close"),
        ("voltage", "~ voltage"),
        ("not settled", "~ moving"),
        ("cold", "~ cold"),
    ],
)
def test_a_speed_is_called_close_only_where_its_doubt_leaves_it_open(
    why: str, word: str, width: int
) -> None:
    """One with a chance below 0.1 % is undecided for another reason, and that is said."""
    facts = made_up.result()
    line = replace(facts.lines[-1], sure=0.0004, outcome="undecided", why=why)
    rows = result_rows(replace(facts, lines=(line,)), width, 40, Look())
    assert sum(word in text_of(one) for one in rows) == 1


@pytest.mark.parametrize("width", [80, 120])
def test_what_did_not_end_is_told_in_full_beside_its_key(width: int) -> None:
    long = "The run of 2026-11-24T184619Z-J-1044-serial-of-a-long-name (2026-11-24) did not end."
    facts = replace(made_up.ready(is_ready=True), interrupted=long)
    rows = [text_of(one) for one in ready_rows(facts, width, 30, Look())]
    text = " ".join(" ".join(rows).split())
    assert f"[g]o on with it {long}" in text


def test_long_advice_is_marked_where_it_is_cut_and_stands_whole_below() -> None:
    advice = " ".join(f"word{number}" for number in range(90))
    facts = replace(made_up.result(), what_next=advice)
    top = [text_of(one) for one in result_rows(facts, 80, 24, Look())]
    assert sum("... (more below)" in one for one in top) == 1
    told = ""
    for first in range(60):
        rows = result_rows(facts, 80, 24, Look(), first=first)
        told += " ".join(text_of(one) for one in rows)
    assert all(f"word{number} " in f"{told} " for number in range(90))
    short = replace(facts, what_next="Test again.")
    assert not any("more below" in text_of(one) for one in result_rows(short, 80, 24, Look()))


def test_the_words_of_a_result_are_broken_into_rows_once_a_draw(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    facts = replace(made_up.result(), sentence="Passes by so much.")
    broken: list[str] = []

    def counted(text: str, width: int, ink: Ink = "plain", *, hang: int = 0) -> list[Row]:
        broken.append(text)
        return wrapped(text, width, ink, hang=hang)

    monkeypatch.setattr(result_view, "wrapped", counted)
    monkeypatch.setattr(ResultPage, "look", Look())
    assert len(ResultPage(facts, live=False).page_rows(80, 24)) == 24
    assert sum("Passes by so much." in one for one in broken) == 1
    assert len(broken) == len(set(broken)), "nor anything else"
