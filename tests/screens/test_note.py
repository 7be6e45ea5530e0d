"""A note typed on the result: what, who, why and files, as `steadyamps note` takes them."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.pilot import Pilot

from acquire.record.notes import Note, read_notes
from acquire.record.verify import verify
from acquire.screens.app import BenchApp
from acquire.screens.boxes import Box
from acquire.screens.note_box import NoteBox, user_here
from acquire.screens.result_facts import facts_of_folder
from acquire.screens.result_page import ResultPage
from tests.screens.stand_in import KeeperStandIn, app_with, by_hand, make_run
from tests.screens.test_keys import run_app, shown
from tests.screens.test_seal_shown import until


@pytest.fixture
def keeper(tmp_path: Path) -> KeeperStandIn:
    return KeeperStandIn(tmp_path / "shelf")


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    path = tmp_path / "worn brushes.jpg"
    path.write_bytes(b"\xff\xd8\xff invented")
    return path


def _type(app: BenchApp, text: str) -> None:
    """As pasted: a path has signs that a keyboard in a test has no names for."""
    assert isinstance(app.screen, Box)
    app.screen.type_text(text)


async def _answer(app: BenchApp, pilot: Pilot[None], *answers: str) -> None:
    for answer in answers:
        _type(app, answer)
        await pilot.press("enter")


def _noted(folder: Path, answers: tuple[str, ...], app: BenchApp) -> tuple[Note, ...]:
    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.open_page(ResultPage(facts_of_folder(folder), live=False))
        await pilot.pause()
        await pilot.press("o")
        await _answer(app, pilot, *answers)
        await until(pilot, app, "Added as attachments/note-0001.json, sealed.")

    run_app(app, steps)
    return read_notes(folder)


def test_a_note_has_what_who_why_and_a_photo(keeper: KeeperStandIn, photo: Path) -> None:
    folder = make_run(keeper.shelf)
    answers = ("brush holder replaced", "Nell", "asked for", f"'{photo}'", "")
    (note,) = _noted(folder, answers, app_with(keeper))
    assert (note.text, note.who, note.why) == ("brush holder replaced", "Nell", "asked for")
    (file,) = note.files
    assert file.original == "worn brushes.jpg"
    assert (folder / "attachments" / file.name).read_bytes() == photo.read_bytes()
    assert verify(folder).sealed


def test_a_photo_alone_is_a_note(keeper: KeeperStandIn, photo: Path) -> None:
    (note,) = _noted(make_run(keeper.shelf), ("", "Nell", "", str(photo), ""), app_with(keeper))
    assert note.text == ""
    assert len(note.files) == 1


def test_who_is_the_operator_at_first_and_then_whoever_said_the_last_note(
    keeper: KeeperStandIn,
) -> None:
    folder = make_run(keeper.shelf)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.open_page(ResultPage(facts_of_folder(folder), live=False))
        await pilot.pause()
        await pilot.press("o")
        await _answer(app, pilot, "one")
        assert "2 of 4. Who says it?" in shown(app)
        assert isinstance(app.screen, NoteBox)
        assert app.screen.typed == "Jo"
        await _answer(app, pilot, "", "Nell", "", "")
        await until(pilot, app, "note-0001")
        await pilot.press("o")
        await _answer(app, pilot, "two")
        assert app.screen.typed == "Nell"

    run_app(app_with(keeper, by_hand(operator="Jo")), steps)


@pytest.mark.parametrize(
    ("answers", "complaint"),
    [
        (("x", ""), "Type a name."),
        (("x", "Nell", "", "nowhere.jpg"), "There is no file nowhere.jpg."),
        (("x", "Nell", "", "."), "There is no file ."),
        (("", "Nell", "", ""), "Nothing is noted yet"),
    ],
)
def test_what_cannot_be_noted_is_said_and_asked_again(
    keeper: KeeperStandIn, answers: tuple[str, ...], complaint: str
) -> None:
    folder = make_run(keeper.shelf)

    async def steps(app: BenchApp, pilot: Pilot[None]) -> None:
        app.open_page(ResultPage(facts_of_folder(folder), live=False))
        await pilot.pause()
        await pilot.press("o")
        await _answer(app, pilot, *answers)
        assert f"! {complaint}" in shown(app)
        assert isinstance(app.screen, NoteBox)
        await pilot.press("escape")
        assert isinstance(app.screen, ResultPage)

    run_app(app_with(keeper), steps)
    assert read_notes(folder) == ()


def test_a_computer_that_keeps_no_list_of_users_asks_for_the_name(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def nobody() -> str:
        raise OSError("no such user")

    monkeypatch.setattr("getpass.getuser", nobody)
    assert user_here() == ""
