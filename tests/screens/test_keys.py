"""Every path by single keys alone; the space bar from every page."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest
from textual import events
from textual.pilot import Pilot

from acquire.screens.app import BenchApp
from acquire.screens.boxes import Box
from acquire.screens.help_page import CautionsPage, HelpPage
from acquire.screens.instruments_page import InstrumentsPage
from acquire.screens.match_page import MatchPage
from acquire.screens.page import Page
from acquire.screens.past_page import PastPage
from acquire.screens.ready_page import ReadyPage
from acquire.screens.result_page import ResultPage
from acquire.screens.rows import text_of
from acquire.screens.sweep_page import SweepPage
from tests.screens.stand_in import PLATE, KeeperStandIn, app_with, make_run

Steps = Callable[[BenchApp, Pilot[None]], Awaitable[None]]


def run_app(app: BenchApp, steps: Steps, size: tuple[int, int] = (80, 24)) -> None:
    """Run the app headless and let `steps` press its keys."""

    async def go() -> None:
        async with app.run_test(size=size) as pilot:
            await pilot.pause()
            await steps(app, pilot)

    asyncio.run(go())


def shown(app: BenchApp) -> str:
    """The text of the page on top."""
    page = app.screen
    assert isinstance(page, Page)
    page.redraw()
    return "\n".join(text_of(one).rstrip() for one in page.sheet.rows)


async def type_keys(pilot: Pilot[None], text: str) -> None:
    """Type a text sign by sign, as a keyboard does."""
    names = {" ": "space", "/": "slash", "@": "at", ".": "full_stop", "-": "minus"}
    await pilot.press(*(names.get(sign, sign) for sign in text))


@pytest.fixture
def keeper(tmp_path: Path) -> KeeperStandIn:
    return KeeperStandIn(tmp_path / "shelf")


def test_a_run_is_prepared_and_begun_by_keys_alone(keeper: KeeperStandIn) -> None:
    app = app_with(keeper)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        assert "Choose the rated curve" in shown(app)
        await pilot.press("d")
        await type_keys(pilot, PLATE)
        await pilot.press("enter")
        assert app.choices.rated is not None, shown(app)
        for key, text in (("s", "A 17"), ("u", "grey case"), ("j", "J-1044"), ("o", "Nell")):
            await pilot.press(key)
            await type_keys(pilot, text)
            await pilot.press("enter")
        await pilot.press("t", "down", "enter")
        assert (app.choices.serial, app.choices.unit) == ("A 17", "grey case")
        assert (app.choices.job.number, app.choices.operator) == ("J-1044", "Nell")
        assert app.choices.stage == "after"
        await pilot.press("b")
        assert not keeper.begun
        assert "Not yet: Tick the wiring" in shown(app)
        await pilot.press("1", "2", "3", "4")
        assert app.choices.wiring_ticked
        await pilot.press("c")
        assert isinstance(app.screen, CautionsPage)
        await pilot.press("y")
        assert isinstance(app.screen, ReadyPage)
        assert shown(app).startswith(" Ready.")
        await pilot.press("b")
        assert isinstance(app.screen, SweepPage)

    run_app(app, steps)
    (wanted,) = keeper.begun
    assert wanted.order.serial == "A 17"
    assert wanted.accepted["how"] == "accepted on the screen"
    assert wanted.accepted["cautions"]


def test_what_is_typed_at_once_goes_to_the_page_each_key_belongs_to(
    keeper: KeeperStandIn,
) -> None:
    """As a scanner types: the letters of a serial must not tick, begin or quit."""
    typed = ["s", *"wbqacdr-17", "enter", "p", "escape", "e", *"150", "escape", "1"]

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        for key in typed:
            character = key if len(key) == 1 else "\r" if key == "enter" else None
            app.post_message(events.Key("minus" if key == "-" else key, character))
        await wait_until(pilot, lambda: bool(app.choices.ticked))
        assert app.choices.serial == "wbqacdr-17"
        assert app.engine_figures == {"engine_mm": "150"}
        assert isinstance(app.screen, ReadyPage)
        assert app.choices.ticked == {app.choices.wiring[0]}
        assert not keeper.begun

    run_app(app_with(keeper), steps)


def test_a_wrong_plate_is_refused_with_a_sentence_and_may_be_corrected(
    keeper: KeeperStandIn,
) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await pilot.press("d")
        await type_keys(pilot, "45/90A 13.5V")
        await pilot.press("enter")
        assert isinstance(app.screen, Box)
        assert "@" in shown(app)
        assert app.choices.rated is None
        await type_keys(pilot, " @1500/6000")
        await pilot.press("enter")
        assert app.choices.rated is not None

    run_app(app_with(keeper), steps)


def test_escape_leaves_everything_as_it_was(keeper: KeeperStandIn) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await pilot.press("s", "x", "escape")
        assert app.choices.serial == ""
        await pilot.press("m", "down", "escape")
        assert app.choices.method is not None
        assert app.choices.method.profile.title == "Quick sweep, cold"
        await pilot.press("escape")
        assert isinstance(app.screen, ReadyPage)

    run_app(app_with(keeper), steps)


def test_method_rule_and_rig_are_chosen_by_typing_a_part_of_the_name(
    keeper: KeeperStandIn,
) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await pilot.press("m", *"fine", "enter")
        await pilot.press("a")
        await type_keys(pilot, "on-or-above")
        await pilot.press("enter")
        await pilot.press("r")
        await type_keys(pilot, "28 v")
        await pilot.press("enter")
        choices = app.choices
        assert choices.method is not None
        assert choices.rule is not None
        assert choices.rig is not None
        assert choices.method.path is not None
        assert choices.method.path.stem == "fine"
        assert choices.rule.profile.accept.on_or_above
        assert choices.rig.profile.title == "Simulated rig, 28 V"
        assert keeper.rigs[-1] is choices.rig, "the rig chosen is opened"

    run_app(app_with(keeper), steps)


PAGES: dict[str, Callable[[BenchApp], object]] = {
    "sweep": lambda app: None,
    "help": lambda app: app.open_page(HelpPage("sweep")),
    "instruments": lambda app: app.show_instruments(),
    "cautions": lambda app: app.show_cautions(),
    "past tests": lambda app: app.show_past(),
    "match": lambda app: app.show_match(),
    "result": lambda app: app.open_page(ResultPage(None, live=False)),
    "note": lambda app: app.screen.act_note() if isinstance(app.screen, SweepPage) else None,
}


@pytest.mark.parametrize("page", PAGES.values(), ids=PAGES.keys())
def test_the_space_bar_stops_from_every_page(
    page: Callable[[BenchApp], object], keeper: KeeperStandIn
) -> None:
    keeper.busy, keeper.state = True, "running"

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.push_screen(SweepPage())
        await pilot.pause()
        page(app)
        await pilot.pause()
        top = app.screen
        if isinstance(top, Box):
            await pilot.press("a", "b")
        await pilot.press("space")
        assert [reason.kind for reason in keeper.stops] == ["operator"]
        assert isinstance(app.screen, SweepPage), "one sees the rig come to rest"
        if isinstance(top, Box):
            assert top.typed == "ab", "the stop is no part of the text"

    run_app(app_with(keeper), steps)


def test_with_no_run_on_the_space_bar_types_a_space_or_halts_the_drive(
    keeper: KeeperStandIn,
) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await pilot.press("space")
        assert keeper.halts == 1
        assert "told to stop all the same" in shown(app)
        await pilot.press("u", "a", "space", "b", "enter")
        assert app.choices.unit == "a b"
        assert keeper.stops == []

    run_app(app_with(keeper), steps)


def test_a_click_on_the_words_does_what_the_key_does(keeper: KeeperStandIn) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        lines = shown(app).splitlines()
        y = next(n for n, line in enumerate(lines) if "[p]ast tests" in line)
        await pilot.click(offset=(lines[y].index("past") if "past" in lines[y] else
                                  lines[y].index("[p]ast") + 4, y))  # fmt: skip
        await pilot.pause()
        assert isinstance(app.screen, PastPage)

    run_app(app_with(keeper), steps)


def test_the_stop_can_be_clicked_too(keeper: KeeperStandIn) -> None:
    keeper.busy, keeper.state = True, "running"

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.push_screen(SweepPage())
        await pilot.pause()
        app.show_instruments()
        await pilot.pause()
        lines = shown(app).splitlines()
        y = next(n for n, line in enumerate(lines) if "STOP" in line)
        await pilot.click(offset=(lines[y].index("STOP") + 1, y))
        await pilot.pause()
        assert len(keeper.stops) == 1

    run_app(app_with(keeper), steps)


def test_past_tests_are_searched_opened_and_compared(keeper: KeeperStandIn) -> None:
    make_run(keeper.shelf, day=2, stage="before", amps=(30.0, 70.0))
    make_run(keeper.shelf, day=3, stage="after", amps=(52.0, 96.0))
    make_run(keeper.shelf, day=4, serial="B-9")

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await pilot.press("p")
        app.memory.wait()
        await pilot.pause()
        await wait_until(pilot, lambda: "3 past tests, the newest first." in shown(app))
        await pilot.press("slash")
        await type_keys(pilot, "a-17 before")
        await wait_until(pilot, lambda: "Found for 'a-17 before': 1 of 3 past tests." in shown(app))
        await pilot.press("enter", "enter")
        await wait_until(pilot, lambda: "Fails." in shown(app))
        assert isinstance(app.screen, ResultPage)
        await pilot.press("escape")
        await pilot.press("slash", "escape", "home", "down", "c", "down", "c")
        await wait_until(pilot, lambda: "before" in shown(app) and "Passes." in shown(app))
        assert "○·· before" in shown(app)
        assert "change" in shown(app)
        assert "+22.0" in shown(app), "52 A after, 30 A before, at 1500 rpm"

    run_app(app_with(keeper), steps)


async def wait_until(pilot: Pilot[None], what: Callable[[], bool]) -> None:
    """Wait for something that is worked out in the background."""
    for _ in range(2000):
        if what():
            return
        await pilot.pause(0.025)
    raise AssertionError(shown(pilot.app))  # type: ignore[arg-type]


def test_an_interrupted_run_is_offered_and_gone_on_with(keeper: KeeperStandIn) -> None:
    folder = make_run(keeper.shelf, amps=(47.0,), complete=False)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.memory.wait()
        assert "The run of A-17 (2026-03-02) did not end." in shown(app)
        await pilot.press("g")
        await wait_until(pilot, lambda: app.choices.going_on is not None)
        assert app.choices.going_on is not None
        assert app.choices.serial == "A-17"
        assert "Goes on with the run of A-17: 1 of 2 speeds are there." in shown(app)
        await pilot.press("m")
        assert isinstance(app.screen, ReadyPage), "its method is the one of its record"
        assert "goes on as its own record has it" in shown(app)
        await pilot.press("g")
        assert app.choices.going_on is None
        await pilot.press("g")
        await wait_until(pilot, lambda: app.choices.going_on is not None)
        await pilot.press("w", "c", "y", "b")

    run_app(app_with(keeper), steps)
    (wanted,) = keeper.begun
    assert wanted.going_on is not None
    assert wanted.going_on.folder == folder
    assert len(wanted.going_on.points) == 1


def test_an_earlier_run_of_the_same_serial_is_found_by_itself(keeper: KeeperStandIn) -> None:
    make_run(keeper.shelf, amps=(30.0, 70.0))

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.memory.wait()
        await pilot.press("s")
        await type_keys(pilot, "a-17")
        await pilot.press("enter")
        app.memory.wait()
        assert "Earlier run of A-17: 2026-03-02, before, fail" in shown(app)
        assert [point.amps for point in app.memory.earlier_points] == [30.0, 70.0]

    run_app(app_with(keeper), steps)


def test_the_engine_is_matched_as_one_types(keeper: KeeperStandIn) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await pilot.press("e")
        assert isinstance(app.screen, MatchPage)
        await pilot.press("a")
        await type_keys(pilot, "45/90 a, small")
        await pilot.press("enter")
        await pilot.press("down", "down", *"25", "backspace", "full_stop", "5", "down", *"700")
        await pilot.press("down", *"1400", "full_stop", "full_stop", *"2200", "down", *"3600")
        await wait_until(pilot, lambda: "ratio 2.50" in shown(app))
        text = shown(app)
        assert "1732 rpm" in text or "1733 rpm" in text, "700 rpm x 2.5, less one percent of slip"
        await pilot.press("escape", "e")
        assert app.engine_figures["idle"] == "700", "kept from one match to the next"

    run_app(app_with(keeper), steps)


def test_the_view_is_written_to_text_and_svg(keeper: KeeperStandIn) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await pilot.press("f")
        assert "Written to" in shown(app)

    run_app(app_with(keeper), steps)
    text, svg = sorted((keeper.shelf / "views").iterdir(), key=lambda path: path.suffix)[::-1]
    assert text.suffix == ".txt"
    assert "[u]nit" in text.read_text(encoding="utf-8")
    assert svg.read_text(encoding="utf-8").startswith("<svg")


def test_help_speaks_of_the_page_one_came_from_and_holds_the_cautions(
    keeper: KeeperStandIn,
) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await pilot.press("question_mark")
        assert "Help: ready" in shown(app)
        page = app.screen
        assert isinstance(page, HelpPage)
        text = "\n".join(text_of(one) for one in page.text_rows(80))
        assert (
            "emergency stop is hard-wired" in " ".join(text.split()) or "no safety device" in text
        )
        for caution in app.choices.cautions:
            assert caution.split()[0] in text
        await pilot.press("end")
        assert "lines more" not in shown(app)
        await pilot.press("home", "l")
        assert "Help: ready" in shown(app)
        assert app.theme.startswith("steady-light")
        await pilot.press("escape")
        assert isinstance(app.screen, ReadyPage)

    run_app(app_with(keeper), steps)


def test_a_window_too_small_gives_one_sentence_and_the_stop_still_works(
    keeper: KeeperStandIn,
) -> None:
    keeper.busy, keeper.state = True, "running"

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.push_screen(SweepPage())
        await pilot.pause()
        await pilot.resize_terminal(60, 20)
        await pilot.pause()
        text = " ".join(shown(app).split())
        assert "60 x 20; the screens need 80 x 24." in text
        assert "the space bar stops it" in text
        await pilot.press("space")
        assert len(keeper.stops) == 1

    run_app(app_with(keeper), steps)


def test_no_page_of_the_toolkit_is_left_over(keeper: KeeperStandIn) -> None:
    """No palette, no footer, no hint, no quitting by a key of the toolkit's."""

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await pilot.press("ctrl+p", "ctrl+q", "f1", "ctrl+backslash")
        assert isinstance(app.screen, ReadyPage)
        assert app.is_running
        assert not app._notifications

    run_app(app_with(keeper), steps)


def test_a_rig_that_does_not_open_says_why_and_is_tried_again(keeper: KeeperStandIn) -> None:
    """Every instrument that fails is named, on its own line."""
    from drivers.errors import CannotOpen

    keeper.state = "closed"
    keeper.trouble = CannotOpen("amps", "nothing answers at port 5025.", what_to_do="Is it on?")

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        text = " ".join(shown(app).split())
        assert "The rig does not open; why stands below it." in text
        assert "! amps: nothing answers at" in text
        assert "begin" in text
        assert "[b]egin" not in text
        tried = len(keeper.rigs)
        await pilot.press("l")
        assert len(keeper.rigs) == tried + 1
        await pilot.press("i")
        assert "nothing answers" in shown(app)

    run_app(app_with(keeper), steps)


def test_instruments_say_that_no_rig_is_open(keeper: KeeperStandIn) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await pilot.press("i")
        assert isinstance(app.screen, InstrumentsPage)
        assert "The rig is not open." in shown(app)
        app.choices.rig = None
        assert "No rig is chosen yet: r on the ready page chooses it." in shown(app)
        assert "look [a]t the rig" not in shown(app)

    run_app(app_with(keeper), steps)
