"""Past tests from the shelf's index: long lists, searches, and what is done without the index."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.pilot import Pilot

from acquire.screens import shelf_index
from acquire.screens.app import BenchApp
from acquire.screens.past_facts import PastFacts
from acquire.screens.past_page import PastPage
from acquire.screens.result_page import ResultPage
from acquire.screens.search_words import wanted_from
from acquire.screens.shelf_asking import Question, ShelfAsker, page_about, place_of
from acquire.shelf.database import INDEX_FILE
from acquire.shelf.errors import ShelfError
from acquire.shelf.shelf import open_shelf
from acquire.shelf.wanted import Wanted
from tests.screens.stand_in import KeeperStandIn, app_with, make_run
from tests.screens.test_keys import run_app, shown, type_keys, wait_until
from tests.shelf.shelves import FIRST_DAY, Told, put, run_id_of, settle

MANY = 99
OUTCOMES = ("pass", "pass", "fail")


def told(number: int) -> Told:
    """The runs of one shelf: three a day, every third fails; a unit before and after."""
    return Told(
        f"{number:04d}", began=FIRST_DAY + timedelta(hours=8 * number), serial=f"A-{number // 2}",
        job=f"J-{1000 + number // 2}", unit="van" if number % 4 else "harbour launch",
        stage="after" if number % 2 else "before", outcome=OUTCOMES[number % 3],
    )  # fmt: skip


@pytest.fixture(scope="module")
def long_shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    shelf = tmp_path_factory.mktemp("long") / "shelf"
    for number in range(MANY):
        put(shelf, told(number))
    settle(shelf)
    open_shelf(shelf).close()
    return shelf


def page_of(app: BenchApp) -> PastPage:
    assert isinstance(app.screen, PastPage)
    return app.screen


def facts_of(app: BenchApp) -> PastFacts:
    return page_of(app).facts()


def picked(app: BenchApp) -> str:
    run = facts_of(app).picked
    return run.run_id if run is not None else ""


async def opened(app: BenchApp, pilot: Pilot[None], total: int) -> None:
    """The page, with everything there is to be shown."""
    await pilot.press("p")
    await wait_until(pilot, lambda: facts_of(app).read and facts_of(app).all_runs == total)
    await at_rest(app, pilot)


async def at_rest(app: BenchApp, pilot: Pilot[None]) -> None:
    """No question is out and the folders have been compared."""
    memory = app.memory

    def still() -> bool:
        page = page_of(app)
        return not (memory.catching_up or page._asking or page._caught_up != memory.caught_up)

    await wait_until(pilot, still)


# ---- long lists ------------------------------------------------------------------------------


def test_a_long_list_is_gone_through_by_keys_however_quickly(long_shelf: Path) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, MANY)
        assert f"{MANY} past tests, the newest first." in shown(app)
        await pilot.press("pagedown", "pagedown", "pagedown", *["down"] * 12)
        await at_rest(app, pilot)
        assert picked(app) == run_id_of(told(MANY - 1 - 48))
        assert f"49 of {MANY}" in shown(app)
        await pilot.press("end")
        await at_rest(app, pilot)
        assert picked(app) == run_id_of(told(0))
        assert "A-0" in shown(app)
        await pilot.press("down", "pagedown", "pageup")
        await at_rest(app, pilot)
        far = facts_of(app).at
        assert 0 < far < MANY - 5
        assert picked(app) == run_id_of(told(MANY - 1 - far))
        await pilot.press("home", "up")
        await at_rest(app, pilot)
        assert picked(app) == run_id_of(told(MANY - 1))

    run_app(app_with(KeeperStandIn(long_shelf)), steps)


@given(at=st.integers(0, 200_000), rows=st.integers(24, 80))
def test_what_is_fetched_at_once_reaches_far_to_either_side(at: int, rows: int) -> None:
    limit, number = page_about(at, rows)
    first = limit * (number - 1)
    assert first <= at < first + limit
    assert first == 0 or at - first >= rows - 1
    assert first + limit - at >= rows


@pytest.mark.parametrize(
    "wanted",
    [Wanted(), Wanted(outcomes=("fail",)), Wanted(text="launch"), Wanted(since="2026-04")],
    ids=["all", "outcome", "words", "since"],
)
def test_the_place_of_a_run_is_found_without_reading_the_list(
    wanted: Wanted, long_shelf: Path
) -> None:
    with open_shelf(long_shelf) as shelf:
        found = [one.run_id for one in shelf.every(wanted)]
        for entry in list(shelf.every())[::9]:
            expected = found.index(entry.run_id) if entry.run_id in found else None
            assert place_of(shelf, wanted, entry) == expected


# ---- staying where one is --------------------------------------------------------------------


def test_the_run_picked_stays_picked_while_one_types(long_shelf: Path) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, MANY)
        await pilot.press("end", "up", "up")
        await at_rest(app, pilot)
        fails = run_id_of(told(2))
        assert told(2).outcome == "fail"
        assert picked(app) == fails
        await pilot.press("slash")
        await type_keys(pilot, "fail")
        await at_rest(app, pilot)
        assert picked(app) == fails
        assert facts_of(app).total == MANY // 3
        await type_keys(pilot, " xy")
        await at_rest(app, pilot)
        assert facts_of(app).total == 0
        assert f"Found for 'fail xy': 0 of {MANY} past tests." in shown(app)
        await pilot.press("escape")
        await at_rest(app, pilot)
        assert picked(app) == fails
        assert facts_of(app).at == MANY - 3

    run_app(app_with(KeeperStandIn(long_shelf)), steps)


def test_the_run_picked_stays_picked_while_new_runs_appear(tmp_path: Path) -> None:
    shelf = tmp_path / "shelf"
    for number in range(6):
        put(shelf, told(number))

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, 6)
        await pilot.press("down", "down")
        before = picked(app)
        put(shelf, told(6))
        put(shelf, told(7))
        app.memory.refresh()
        await wait_until(pilot, lambda: facts_of(app).total == 8)
        assert picked(app) == before == run_id_of(told(3))
        assert facts_of(app).at == 4

    run_app(app_with(KeeperStandIn(shelf)), steps)


# ---- searching -------------------------------------------------------------------------------

SEARCHES = {
    "serial:a7": Wanted(serial="a7"),
    "job:J-10 van": Wanted(job="J-10", text="van"),
    'unit:"harbour launch"': Wanted(unit="harbour launch"),
    "since:2026-03 until:2026-04-02": Wanted(since="2026-03", until="2026-04-02"),
    "outcome:fail,pass stage:before": Wanted(outcomes=("fail", "pass"), stage="before"),
    "outcome:not-judged": Wanted(outcomes=("not judged",)),
    "outcome:no": Wanted(outcomes=("not judged", "not finished", "no verdict")),
    "rated:small only:real": Wanted(rated="small", simulated=False),
    "stage:inc ONLY:sim": Wanted(stage="incoming", simulated=True),
    "stage:warranty": Wanted(stage="warranty"),
    "serial: 12:30": Wanted(text="12:30"),
    "  dryer   ferry ": Wanted(text="dryer ferry"),
}


@pytest.mark.parametrize("typed", SEARCHES)
def test_what_is_typed_asks_what_the_command_asks(typed: str) -> None:
    assert wanted_from(typed) == SEARCHES[typed]


@given(st.text(alphabet='abcsince:outm -0123456789",', max_size=40) | st.text(max_size=30))
def test_whatever_is_typed_is_looked_for_or_refused_with_a_sentence(typed: str) -> None:
    refused = ""
    try:
        wanted_from(typed)
    except ShelfError as error:
        refused = str(error)
    assert not refused or refused.endswith(".")


def test_a_date_half_typed_leaves_the_list_as_it_is(long_shelf: Path) -> None:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, MANY)
        await pilot.press("slash")
        page_of(app).type_search("outcome:fa since:2026")
        await at_rest(app, pilot)
        assert facts_of(app).total == MANY // 3
        await pilot.press("minus")
        assert "is no date." in shown(app)
        assert "Found for 'outcome:fa since:2026':" in shown(app)
        assert facts_of(app).total == MANY // 3
        await pilot.press(*"04")
        await at_rest(app, pilot)
        assert "is no date." not in shown(app)
        april = [n for n in range(MANY) if told(n).began.month == 4 and told(n).outcome == "fail"]
        assert facts_of(app).total == len(april)
        await pilot.press("enter", "escape")
        await at_rest(app, pilot)
        assert facts_of(app).total == MANY, "Esc shows all before it leaves"
        await pilot.press("escape")
        assert not isinstance(app.screen, PastPage)

    run_app(app_with(KeeperStandIn(long_shelf)), steps)


def test_before_and_after_are_marked_and_opened_together(tmp_path: Path) -> None:
    shelf = tmp_path / "shelf"
    make_run(shelf, day=2, stage="before", amps=(30.0, 70.0))
    make_run(shelf, day=3, serial="B-9", stage="before")
    make_run(shelf, day=4, stage="after", amps=(52.0, 96.0))

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, 3)
        lines = shown(app).splitlines()
        assert any(line.startswith(" & 26-03-02") for line in lines), lines
        assert "[b]efore and after together  & before of 2026-03-02, fail" in shown(app)
        await pilot.press("down", "b")
        assert "No run before or after a rebuild belongs to this one" in shown(app)
        await pilot.press("down", "b")
        await wait_until(pilot, lambda: "+22.0" in shown(app))
        assert isinstance(app.screen, ResultPage)
        assert "Passes." in shown(app), "the later one, whichever was picked"

    run_app(app_with(KeeperStandIn(shelf)), steps)


def test_one_test_is_one_and_none_are_none(tmp_path: Path) -> None:
    async def none(app: BenchApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, 0)
        await pilot.press("down", "end", "enter", "c", "b", "r")
        assert "There are no past tests on this shelf yet" in shown(app)
        assert "[c]ompare" not in shown(app), "nothing is offered that cannot be done"

    async def one(app: BenchApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, 1)
        assert "1 past test, the newest first." in shown(app)
        await pilot.press("down", "up", "end", "home", "pagedown")
        assert facts_of(app).at == 0

    run_app(app_with(KeeperStandIn(tmp_path / "shelf")), none)
    put(tmp_path / "shelf", told(0))
    run_app(app_with(KeeperStandIn(tmp_path / "shelf")), one)


# ---- without an index ------------------------------------------------------------------------


@contextmanager
def locked(shelf: Path) -> Iterator[None]:
    """As if another program held the index."""
    with closing(sqlite3.connect(shelf / INDEX_FILE)) as other:
        other.execute("BEGIN EXCLUSIVE")
        yield
        other.rollback()


@pytest.fixture
def small_shelf(tmp_path: Path) -> Path:
    shelf = tmp_path / "shelf"
    for number in range(4):
        put(shelf, told(number))
    open_shelf(shelf).close()
    return shelf


def test_a_locked_index_is_done_without_and_that_is_said(
    small_shelf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shelf_index, "LOCKED_S", 0.05)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.choices.serial = "A-1"
        app.memory.look_for_earlier()
        app.memory.wait()
        await opened(app, pilot, 4)
        text = shown(app)
        assert "! Another program keeps the index of this shelf locked; the folders are" in text
        await pilot.press("slash")
        await type_keys(pilot, "a-0")
        await wait_until(pilot, lambda: facts_of(app).total == 2)

    with locked(small_shelf):
        run_app(app_with(KeeperStandIn(small_shelf)), steps)


def test_an_index_that_cannot_be_written_is_done_without(
    small_shelf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(_: Path) -> None:
        raise PermissionError("no")

    (small_shelf / INDEX_FILE).unlink()
    monkeypatch.setattr("acquire.shelf.shelf.file_database", refused)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, 4)
        assert "! No index can be kept on this shelf; the folders are read instead." in shown(app)

    run_app(app_with(KeeperStandIn(small_shelf)), steps)


def test_a_broken_index_is_made_again(small_shelf: Path) -> None:
    (small_shelf / INDEX_FILE).write_bytes(b"no database" * 400)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, 4)
        assert "! " not in shown(app).splitlines()[2]

    run_app(app_with(KeeperStandIn(small_shelf)), steps)


def test_a_server_that_is_away_leaves_the_runs_of_this_bench(
    small_shelf: Path, tmp_path: Path
) -> None:
    config = tmp_path / "config"
    config.mkdir(exist_ok=True)
    url = "postgresql://bench@127.0.0.1:9/shelf"  # the discard port: nobody listens
    text = f'[shelf]\nfolder = "{small_shelf.as_posix()}"\nurl = "{url}"\n'
    (config / "settings.toml").write_text(text, encoding="utf-8")

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, 4)
        assert "! The server is away: only the runs of this bench are shown." in shown(app)
        assert page_of(app).answer is not None

    run_app(app_with(KeeperStandIn(small_shelf)), steps)


def test_a_folder_that_cannot_be_read_is_counted(small_shelf: Path) -> None:
    (small_shelf / run_id_of(told(9))).mkdir()

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        await opened(app, pilot, 4)
        assert "1 folder cannot be read; `steadyamps shelf list` says why." in shown(app)

    run_app(app_with(KeeperStandIn(small_shelf)), steps)


def test_a_closed_page_lets_go_of_the_index(small_shelf: Path) -> None:
    asker = ShelfAsker(small_shelf)
    answer = asker.answer(Question(1, Wanted(), 0, 24))
    assert [one.folder for one in answer.entries] == [run_id_of(told(n)) for n in (3, 2, 1, 0)]
    asker.close()
    (small_shelf / INDEX_FILE).unlink()


def test_a_question_that_comes_after_the_page_was_left_opens_no_index(small_shelf: Path) -> None:
    """Its connections would stay open: nobody closes them any more."""
    asker = ShelfAsker(small_shelf)
    asker.close()
    with pytest.raises(ShelfError, match="The page was left"):
        asker.answer(Question(1, Wanted(), 0, 24))
    with pytest.raises(ShelfError, match="The page was left"):
        asker.read_folders()
    assert asker._index is None
