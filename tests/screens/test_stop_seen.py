"""A stop is never lost, and never without an answer: while the program opens, and everywhere."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any, cast

import pytest
from textual.pilot import Pilot

from acquire.screens.app import BenchApp
from acquire.screens.desk import Desk
from acquire.screens.help_page import HelpPage
from acquire.screens.keeper import Keeper, Wanted
from acquire.screens.page import too_small
from acquire.screens.ready_page import ReadyPage
from acquire.screens.rows import text_of
from acquire.screens.sweep_page import SweepPage
from acquire.stop_path import EMERGENCY, OPEN_PILE, StopReason, StopReport
from acquire.stop_words import left_to_do, rest_sentence
from profiles.catalogue import load_rated
from tests.screens.stand_in import PLATE, KeeperStandIn, app_with, by_hand
from tests.screens.test_keys import run_app, shown, wait_until


@pytest.fixture
def keeper(tmp_path: Path) -> KeeperStandIn:
    return KeeperStandIn(tmp_path / "shelf")


def confirmed(keeper: KeeperStandIn) -> Desk:
    choices = by_hand(rated=load_rated(PLATE), operator="Nell", confirmed_elsewhere=True)
    return Desk(cast("Keeper", keeper), choices, begin_at_once=True)


@pytest.mark.parametrize("key", ["space", ""])
def test_the_space_bar_while_profiles_are_read_keeps_a_confirmed_run_from_beginning(
    key: str, keeper: KeeperStandIn
) -> None:
    go_on = threading.Event()

    def prepare() -> Desk:
        assert go_on.wait(20.0)
        return confirmed(keeper)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        assert "Reading profiles" in shown(app)
        if key:
            await pilot.press(key)
            assert "Stopped: the space bar was pressed. Nothing will turn." in shown(app)
        go_on.set()
        wanted_page = ReadyPage if key else SweepPage
        await wait_until(pilot, lambda: isinstance(app.screen, wanted_page))
        assert len(keeper.begun) == (0 if key else 1)
        if key:
            words = "Stopped before anything turned: the space bar was pressed."
            await wait_until(pilot, lambda: words in shown(app))

    run_app(BenchApp(prepare), steps)


def test_a_stop_between_the_last_look_and_the_beginning_is_not_lost(keeper: KeeperStandIn) -> None:
    begin = keeper.begin

    def begin_late(wanted: Wanted) -> None:
        app.stop_by_key("space")  # by the thread that reads the keyboard
        begin(wanted)

    keeper.begin = begin_late  # type: ignore[method-assign]
    app = BenchApp(lambda: confirmed(keeper), at_once=True)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await wait_until(pilot, lambda: isinstance(app.screen, SweepPage))
        assert [reason.words for reason in keeper.stops] == ["the space bar was pressed."]

    run_app(app, steps)


def test_a_stop_while_the_rig_is_opened_is_acknowledged_and_told_afterwards(
    keeper: KeeperStandIn,
) -> None:
    keeper.busy, keeper.state = True, "beginning"

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.push_screen(SweepPage())
        await pilot.pause()
        assert "the space bar stops this too" in shown(app)
        await pilot.press("space")
        keeper.stopped_early = keeper.stops[0].words
        assert "Stopping: the space bar was pressed. Nothing will turn." in shown(app)
        keeper.busy, keeper.state = False, "closed"
        await wait_until(pilot, lambda: isinstance(app.screen, ReadyPage))
        words = "Stopped before anything turned: the space bar was pressed."
        await wait_until(pilot, lambda: words in shown(app))

    run_app(app_with(keeper), steps)


def test_the_keeper_tells_a_stop_that_came_before_the_run(tmp_path: Path) -> None:
    from acquire.run_order import RunOrder
    from profiles.catalogue import load_method, load_rig

    order = RunOrder(load_rig("simulated"), load_method("quick"), load_rated(PLATE))
    with Keeper(tmp_path, lambda: None) as keeper:
        keeper.begin(Wanted(order, {}))
        assert keeper.stopped_early == ""
        assert keeper.stop(StopReason("operator", "the space bar was pressed."))
        assert keeper.stopping
        assert keeper.wait(30.0)
        assert keeper.stopped_early == "the space bar was pressed."
        assert keeper.end is None
    assert not list(tmp_path.glob("*/run.json"))


@pytest.mark.parametrize(("width", "height"), [(20, 6), (40, 10), (79, 24), (80, 20)])
def test_a_window_too_small_says_first_whether_the_run_goes_on_or_stops(
    width: int, height: int
) -> None:
    def words(stopping: bool) -> str:
        rows = too_small(width, height, running=True, stopping=stopping)[:height]
        return " ".join(" ".join(text_of(one) for one in rows).split())

    assert words(stopping=False).startswith("The run goes on; the space bar stops it.")
    assert words(stopping=True).startswith("Stopping; keep clear until the shaft stands still.")
    assert "space" not in words(stopping=True)
    rows = too_small(width, height, running=True, stopping=True, hands=EMERGENCY)
    assert " ".join(" ".join(text_of(one) for one in rows).split()).startswith(
        "EMERGENCY STOP NOW. Stopping;"
    )


@pytest.mark.parametrize("hands", ["", EMERGENCY, OPEN_PILE])
def test_while_the_result_is_worked_out_nothing_old_is_shown_and_what_is_left_to_do_is(
    hands: str, keeper: KeeperStandIn
) -> None:
    keeper.busy, keeper.state = True, "ending"
    keeper.run = keeper.bench = cast("Any", object())
    report = StopReport(
        StopReason("operator", "the space bar was pressed."), 0.0,
        hands=hands, last_rpm=537.0, stands=not hands,
    )  # fmt: skip
    keeper.rest_words = rest_sentence(report)
    keeper.left = left_to_do(report, stopped=True)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.push_screen(SweepPage())
        await pilot.pause()
        text = " ".join(shown(app).split())
        assert rest_sentence(report) in text
        assert ("The rig is at rest." in text) == (not hands)
        assert "The result is being worked out" in text
        assert len(shown(app).splitlines()) >= (5 if hands else 2)
        keeper.run = keeper.bench = None

    run_app(app_with(keeper), steps)


@pytest.mark.parametrize(("kind", "shown_at_once"), [("guard", True), ("complete", False)])
def test_a_run_that_is_cut_short_is_shown_once_whatever_lies_over_it(
    kind: str, shown_at_once: bool, keeper: KeeperStandIn
) -> None:
    keeper.busy, keeper.state = True, "running"

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.push_screen(SweepPage())
        await pilot.pause()
        await pilot.press("question_mark")
        await wait_until(pilot, lambda: isinstance(app.screen, HelpPage))
        keeper.report = StopReport(StopReason(kind, "output voltage is 16.4 V."), 0.0)
        shown(app)
        assert isinstance(app.screen, SweepPage) == shown_at_once
        if shown_at_once:
            await pilot.press("question_mark")
            await wait_until(pilot, lambda: isinstance(app.screen, HelpPage))
            shown(app)
            assert isinstance(app.screen, HelpPage), "once; then the operator may look elsewhere"

    run_app(app_with(keeper), steps)


def test_a_window_too_small_says_that_it_stops_once_the_space_bar_was_pressed(
    keeper: KeeperStandIn,
) -> None:
    keeper.busy, keeper.state = True, "running"

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.push_screen(SweepPage())
        await pilot.resize_terminal(60, 20)
        await pilot.pause()
        await pilot.press("space")
        keeper.stopping = True
        assert "Stopping; keep clear" in shown(app)

    run_app(app_with(keeper), steps)
