"""The seal, and what a broken-off run has measured, as the pages and `shelf show` tell them."""

from __future__ import annotations

import json
import shlex
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from textual.pilot import Pilot

from acquire.cli.main import run
from acquire.record import seal_words as seal_words_module
from acquire.record.keys import new_key
from acquire.record.seal_words import look_at_seal
from acquire.screens import result_page
from acquire.screens.app import BenchApp
from acquire.screens.look import Look
from acquire.screens.result_facts import facts_of_folder
from acquire.screens.result_view import result_rows
from acquire.screens.rows import text_of
from drivers.clock import HandClock
from profiles.catalogue import config_folder
from tests.live.cut_runs import killed_after
from tests.record.runs import finished_run, new_run
from tests.screens.stand_in import KeeperStandIn, app_with, make_run
from tests.screens.test_keys import run_app, shown


@pytest.fixture
def keeper(tmp_path: Path) -> KeeperStandIn:
    return KeeperStandIn(tmp_path / "shelf")


def spoil(folder: Path) -> None:
    """One figure of curve.csv is made another."""
    path = folder / "curve.csv"
    path.write_bytes(path.read_bytes().replace(b"47.0", b"57.0", 1))


async def until(pilot: Pilot[None], app: BenchApp, words: str) -> str:
    """Wait until the page says it."""
    end_s = time.monotonic() + 10.0
    while words not in shown(app):
        assert time.monotonic() < end_s, shown(app)
        await pilot.pause(0.02)
    return shown(app)


def test_a_sound_seal_says_whether_and_by_whom_it_is_signed(tmp_path: Path) -> None:
    assert look_at_seal(finished_run(tmp_path / "a")).words == "Sealed, not signed."
    strange = new_key(tmp_path / "strange.pem")
    signed = finished_run(tmp_path / "b", key=strange)
    words = look_at_seal(signed).words
    assert words.startswith(f"Sealed, signed with key {strange.public.fingerprint[:16]}")
    assert "NOT known" in words
    config_folder().mkdir(parents=True)
    own = new_key(config_folder() / "workshop-key.pem")
    assert "which is known here" in look_at_seal(finished_run(tmp_path / "c", key=own)).words


def test_a_seal_in_words_for_every_other_state(tmp_path: Path) -> None:
    folder = finished_run(tmp_path / "a")
    for name in ("curve.csv", "verdict.json", "samples.csv", "journal.jsonl"):
        (folder / name).write_bytes((folder / name).read_bytes() + b"\n")
    seal = look_at_seal(folder)
    assert seal.broken
    assert seal.words.startswith("NOT as sealed: ")
    assert "curve.csv" in seal.words
    assert seal.words.endswith("and 1 more.")
    begun = new_run(tmp_path / "b")
    begun.close()
    assert look_at_seal(begun.folder).state == "open"
    assert look_at_seal(tmp_path / "nothing").state == "unknown"


def test_a_run_opened_from_the_shelf_warns_first_of_a_broken_seal(keeper: KeeperStandIn) -> None:
    folder = make_run(keeper.shelf)
    spoil(folder)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.show_run(folder)
        text = await until(pilot, app, "NOT as sealed: curve.csv")
        assert text.splitlines()[0].startswith(" ! NOT as sealed: curve.csv.")
        assert " seal     ! NOT as sealed" in text
        assert len(text.splitlines()) <= 24

    run_app(app_with(keeper), steps)


def test_the_result_is_shown_before_its_seal_is_checked_and_not_by_the_pages_own_thread(
    keeper: KeeperStandIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A seal that takes long holds nothing up."""
    folder = make_run(keeper.shelf)
    began: list[str] = []
    look = seal_words_module.look_at_seal

    def slowly(of: Path) -> seal_words_module.SealWords:
        began.append(threading.current_thread().name)
        time.sleep(0.6)
        return look(of)

    monkeypatch.setattr(result_page, "look_at_seal", slowly)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.show_run(folder)
        text = await until(pilot, app, "being checked")
        assert "A-17" in text
        await until(pilot, app, "Sealed, not signed.")

    run_app(app_with(keeper), steps)
    assert began == ["behind a page"]


def test_past_tests_tell_the_seal_of_the_run_picked(keeper: KeeperStandIn) -> None:
    make_run(keeper.shelf, day=2)
    newest = make_run(keeper.shelf, day=3, serial="B-9")
    spoil(newest)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.show_past()
        text = await until(pilot, app, "its seal  ! NOT as sealed: curve.csv.")
        assert len(text.splitlines()) <= 24
        await pilot.press("down")
        await until(pilot, app, "its seal  = Sealed, not signed.")

    run_app(app_with(keeper), steps)


def begun(shelf: Path) -> Path:
    """A run that a program writes, or wrote when it was killed."""
    folder = new_run(shelf, HandClock())
    folder.close()
    return folder.folder


def test_a_run_that_nobody_writes_is_broken_off_and_one_that_is_written_goes_on(
    keeper: KeeperStandIn,
) -> None:
    keeper.shelf.mkdir()
    begun(keeper.shelf)

    async def dead(app: BenchApp, pilot: Pilot[None]) -> None:
        app.show_past()
        await until(pilot, app, "Cut off")

    run_app(app_with(keeper), dead)
    written = new_run(keeper.shelf, HandClock())

    async def alive(app: BenchApp, pilot: Pilot[None]) -> None:
        app.show_past()
        text = await until(pilot, app, "Goes on")
        assert "Cut off" in text

    run_app(app_with(keeper), alive)
    written.close()


Spoil = Callable[[Path], object]


@pytest.mark.parametrize("spoils", [lambda _folder: None, spoil], ids=["sound", "spoilt"])
def test_shelf_show_tells_the_seal(
    spoils: Spoil, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = make_run(tmp_path / "shelf")
    spoils(folder)
    assert run(["--json", "--shelf", str(folder.parent), "shelf", "show", folder.name]) == 0
    said = capsys.readouterr()
    seal = json.loads(said.out)["seal"]
    if spoils is spoil:
        assert seal == {"state": "broken", "words": "NOT as sealed: curve.csv."}
        assert said.err.startswith("! NOT as sealed: curve.csv. This may not be")
    else:
        assert seal == {"state": "sound", "words": "Sealed, not signed."}
    assert f"seal          {seal['words']}" in said.err


def test_shelf_show_says_that_a_run_was_broken_off(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = begun(tmp_path / "my shelf")
    assert run(["--shelf", str(folder.parent), "shelf", "show", folder.name]) == 0
    said = capsys.readouterr().out
    assert "state         cut off\n" in said
    offered = said.splitlines()[-1]
    assert shlex.split(offered) == ["steadyamps", "resume", str(folder)], "to be copied as it is"


def test_a_run_broken_off_shows_what_it_has_measured(tmp_path: Path) -> None:
    folder = killed_after("pass-van-alternator", 3, tmp_path / "run")
    facts = facts_of_folder(folder)
    assert facts.sentence == "This run has not ended. Measured so far: 3 of 4 speeds."
    text = "\n".join(text_of(one) for one in result_rows(facts, 80, 24, Look(), live=False))
    assert "No speed was measured" not in text
    assert "  3000   " in text
    assert facts.picture is not None
