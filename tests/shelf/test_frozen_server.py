"""A server's process frozen in mid-question: the bench's own patience ends the wait."""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from textual.pilot import Pilot

from acquire.cli.main import run
from acquire.screens.app import BenchApp
from acquire.shelf import server_url as address
from acquire.shelf.database import Database, server_database
from acquire.shelf.errors import ServerAway
from acquire.shelf.server_trouble import AWAY
from acquire.shelf.shelf import open_shelf
from tests.screens.stand_in import KeeperStandIn, app_with
from tests.screens.test_keys import run_app, shown, type_keys, wait_until
from tests.screens.test_past_tests import at_rest, facts_of, opened, page_of
from tests.shelf.frozen import freezer, frozen_in_mid_question, frozen_in_the_handshake
from tests.shelf.postgres_server import free_port
from tests.shelf.shelves import Told, put
from tests.shelf.test_index import listed

pytestmark = pytest.mark.server

PATIENCE_S = 0.4
LONGEST_S = 20.0
"""Before the server would end it by itself, were it thawed; without patience it is for ever."""
SENTENCE = "no answer to one question within 25 s"


@pytest.fixture(autouse=True)
def little_patience(monkeypatch: pytest.MonkeyPatch) -> None:
    assert address.ANSWER_S == address.STATEMENT_MS / 1000 + 5
    monkeypatch.setattr(address, "ANSWER_S", PATIENCE_S)


def ended_within(work: Callable[[], object]) -> bool:
    """True where it ended, after the patience and long before its end by itself."""
    began_s = time.monotonic()
    work()
    return PATIENCE_S < time.monotonic() - began_s < LONGEST_S


def test_a_list_whose_question_freezes_goes_on_with_the_runs_of_this_bench(
    tmp_path: Path, server_url: str
) -> None:
    put(tmp_path, Told("aaaa"))
    listed(tmp_path, server_url)

    def ask() -> None:
        with open_shelf(tmp_path, server_url) as shelf:
            assert shelf.away.startswith(f"{AWAY} 127.0.0.1:")
            assert SENTENCE in shelf.away
            assert not shelf.shared
            assert shelf.page().total == 1

    with frozen_in_mid_question(server_url) as one:
        assert ended_within(ask)
        assert len(one.frozen) == 1  # it was not asked a second time
    with open_shelf(tmp_path, server_url) as shelf:
        assert not shelf.away


def test_commands_say_so_and_end_as_with_any_server_that_is_away(
    tmp_path: Path,
    server_url: str,
    nobody_elses_settings: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    put(tmp_path, Told("aaaa"))
    listed(tmp_path, server_url)
    settings = nobody_elses_settings / "settings.toml"
    settings.write_text(f"[shelf]\nfolder = '{tmp_path}'\nurl = \"{server_url}\"\n")
    with frozen_in_mid_question(server_url) as one:
        assert run(["--json", "shelf", "list"]) == 0
        assert len(one.frozen) == 1
    document = json.loads(capsys.readouterr().out)
    assert document["total"] == 1
    assert SENTENCE in document["server_away"]
    with frozen_in_mid_question(server_url) as one:
        frozen_code = run(["shelf", "rebuild"])
        assert len(one.frozen) == 1
    frozen_said = capsys.readouterr().err
    assert SENTENCE in frozen_said
    nobody = f"postgresql://bench@127.0.0.1:{free_port()}/shelf"
    settings.write_text(f"[shelf]\nfolder = '{tmp_path}'\nurl = \"{nobody}\"\n")
    assert frozen_code == run(["shelf", "rebuild"]) != 0
    assert "refused" in capsys.readouterr().err


@pytest.fixture
def database(server_url: str) -> Iterator[Database]:
    database = server_database(server_url)
    yield database
    database.close()


def backend_of(database: Database) -> int:
    """The process that answers this bench, over the one connection that is kept."""
    from sqlalchemy import text

    backend = database.read(lambda c: c.execute(text("SELECT pg_backend_pid()")).scalar_one())
    assert isinstance(backend, int)
    return backend


def test_a_commit_that_is_not_answered_is_given_up_and_not_tried_again(
    database: Database,
) -> None:
    from sqlalchemy import Connection, text

    database.make_tables()
    turns = 0
    with freezer() as one:

        def work(connection: Connection) -> None:
            nonlocal turns
            turns += 1
            connection.execute(text("INSERT INTO shelf_seen_2 VALUES ('s', 'b', 1)"))
            one.freeze(connection.execute(text("SELECT pg_backend_pid()")).scalar_one())

        def write() -> None:
            with pytest.raises(ServerAway, match=SENTENCE):
                database.write(work)

        assert ended_within(write)
        # Another connection is answered meanwhile: only that one process was frozen.
        assert backend_of(database) not in one.frozen
    assert turns == 1


def test_many_lines_at_once_that_freeze_are_given_up_without_a_word_beside_the_error(
    database: Database, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A program that sets up no logging shows every warning of a library."""
    from sqlalchemy import text

    monkeypatch.setattr(logging.getLogger(), "handlers", [])
    lines = [{"shelf": f"s{number}"} for number in range(50)]
    database.make_tables()
    with freezer() as one:
        one.freeze(backend_of(database))
        insert = text("INSERT INTO shelf_seen_2 VALUES (:shelf, 'b', 1)")

        def write() -> None:
            with pytest.raises(ServerAway, match=SENTENCE):
                database.write(lambda c: c.execute(insert, lines))

        assert ended_within(write)
    assert capsys.readouterr() == ("", "")
    logging.getLogger("of a library").warning("shown")
    assert capsys.readouterr().err == "shown\n"


@pytest.mark.parametrize("as_on", ["wait_select", "wait_poll", "wait_c"])
def test_however_psycopg_waits_the_patience_is_kept(
    database: Database, as_on: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without its C part it waits by `select` on Windows, and in other ways elsewhere."""
    import psycopg

    if not hasattr(psycopg.waiting, as_on):
        pytest.skip("psycopg is here without its C part")
    monkeypatch.setattr("psycopg.waiting.wait", getattr(psycopg.waiting, as_on))
    with freezer() as one:
        one.freeze(backend_of(database))

        def ask() -> None:
            with pytest.raises(ServerAway, match=SENTENCE):
                backend_of(database)

        assert ended_within(ask)


def test_work_of_many_statements_may_take_longer_than_the_patience_with_one(
    database: Database,
) -> None:
    from sqlalchemy import Connection, text

    sleep, turns = text("SELECT pg_sleep(:s)"), [{"s": PATIENCE_S / 8}] * 12

    def one_by_one(connection: Connection) -> None:
        for turn in turns:
            connection.execute(sleep, turn)

    assert ended_within(lambda: database.write(one_by_one))
    assert ended_within(
        lambda: database.write(lambda c: c.execute(sleep, turns))
    )  # sent all at once


def test_a_server_that_freezes_in_the_handshake_is_given_up(tmp_path: Path) -> None:
    put(tmp_path, Told("aaaa"))
    with frozen_in_the_handshake() as port:
        url = f"postgresql://b@127.0.0.1:{port}/shelf?connect_timeout=2&sslmode=disable"

        def ask() -> None:
            with open_shelf(tmp_path, url) as shelf:
                assert "no answer within 3 s" in shelf.away
                assert shelf.page().total == 1

        assert ended_within(ask)


@pytest.fixture
def screens(tmp_path: Path, server_url: str, nobody_elses_settings: Path) -> BenchApp:
    """The screens over a shelf whose two runs the server knows."""
    shelf = tmp_path / "shelf"
    for letters in ("aaaa", "bbbb"):
        put(shelf, Told(letters))
    listed(shelf, server_url)
    settings = nobody_elses_settings / "settings.toml"
    settings.write_text(f"[shelf]\nfolder = '{shelf}'\nurl = \"{server_url}\"\n")
    return app_with(KeeperStandIn(shelf))


def test_past_tests_say_so_and_are_worked_with_meanwhile(
    screens: BenchApp, server_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page's own question and the comparing with the folders behind it are both frozen."""
    monkeypatch.setattr(address, "ANSWER_S", 60.0)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.memory.wait()
        with frozen_in_mid_question(server_url, questions=2) as one:
            await pilot.press("p")
            await wait_until(pilot, lambda: len(one.frozen) == 2)
            await pilot.press("slash")
            await type_keys(pilot, "aaaa")
            assert facts_of(app).search == "aaaa"
            assert page_of(app)._asking
            assert not facts_of(app).read
            monkeypatch.setattr(address, "ANSWER_S", PATIENCE_S)
            await wait_until(pilot, lambda: facts_of(app).read)
            await at_rest(app, pilot)
        assert f"! {AWAY} 127.0.0.1:" in shown(app)
        assert SENTENCE in " ".join(shown(app).split())
        assert [run.run_id[-4:] for run in facts_of(app).entries] == ["aaaa"]

    run_app(screens, steps, size=(200, 30))


def test_past_tests_are_left_at_once_while_their_question_is_frozen(
    screens: BenchApp, server_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(address, "ANSWER_S", 60.0)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.memory.wait()
        with frozen_in_mid_question(server_url, questions=2) as one:
            await pilot.press("p")
            await wait_until(pilot, lambda: len(one.frozen) == 2)
            page = page_of(app)
            await pilot.press("escape")
            assert app.screen is not page
            assert page._asking
            monkeypatch.setattr(address, "ANSWER_S", PATIENCE_S)
            await wait_until(pilot, lambda: not app.memory.catching_up)
        await opened(app, pilot, 2)
        assert AWAY not in shown(app)

    run_app(screens, steps)
