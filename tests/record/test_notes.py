"""Notes and photos: added and sealed, never editing what is there."""

from __future__ import annotations

import hashlib
import json
from datetime import timedelta
from pathlib import Path

import pytest

from acquire.errors import RunFileError
from acquire.record.add_note import add_note
from acquire.record.json_text import many_lines
from acquire.record.keys import SigningKey, new_key
from acquire.record.notes import Note, read_notes
from acquire.record.reopen import reopen
from acquire.record.run_header import RUN_FILE
from acquire.record.seal import SEAL_FILE
from acquire.record.verify import verify
from drivers.clock import HandClock
from tests.record.runs import QUICK, finish, finished_run, measure_step, new_run


def noted(folder: Path, text: str = "bearing replaced", *attach: Path, **more: object) -> Note:
    key = more.get("key")
    assert key is None or isinstance(key, SigningKey)
    return add_note(
        folder, text, who="M. Example", why="asked", attach=attach, key=key, files=QUICK
    )


def content(folder: Path) -> dict[str, bytes]:
    """Every file but the seal."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.name != SEAL_FILE
    }


def test_a_note_is_sealed_and_edits_nothing(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    before = content(folder)
    note = noted(folder)
    assert verify(folder).problems == ()
    after = content(folder)
    assert {name: after[name] for name in before} == before
    assert set(after) - set(before) == {"attachments/note-0001.json"}
    assert read_notes(folder) == (note,)
    assert (note.who, note.why, note.text) == ("M. Example", "asked", "bearing replaced")
    assert note.utc.endswith("Z")


@pytest.mark.parametrize("text", ["", "  \n"])
def test_a_note_that_would_hold_nothing_is_refused(tmp_path: Path, text: str) -> None:
    folder = finished_run(tmp_path)
    before = sorted(folder.rglob("*"))
    with pytest.raises(RunFileError, match="the note would be empty"):
        noted(folder, text)
    assert sorted(folder.rglob("*")) == before
    photo = tmp_path / "rotor.jpg"
    photo.write_bytes(b"photo")
    assert noted(folder, text, photo).sealed


def test_a_note_to_a_run_that_has_not_ended_does_not_say_sealed(tmp_path: Path) -> None:
    folder = new_run(tmp_path)
    measure_step(folder, HandClock(), 1)
    note = noted(folder.folder)
    assert not note.sealed
    assert "not sealed yet" in note.added_words
    finish(folder)
    assert verify(folder.folder).sealed
    assert noted(folder.folder).added_words == "Added as attachments/note-0002.json, sealed."


def test_photos_keep_their_bytes_under_safe_names(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    photo = tmp_path / "=cmd rotor ünder ..load.JPG"
    photo.write_bytes(b"\xff\xd8 photo")
    half = tmp_path / "half.part"
    half.write_bytes(b"not ours")
    note = noted(folder, "photo", photo, half)
    assert [file.name for file in note.files] == [
        "0001-1-cmd-rotor-under-load.jpg",
        "0001-2-half-part",
    ]
    assert note.files[0].original == photo.name
    assert note.files[0].sha256 == hashlib.sha256(b"\xff\xd8 photo").hexdigest()
    assert (folder / "attachments" / note.files[0].name).read_bytes() == b"\xff\xd8 photo"
    assert verify(folder).sealed
    (folder / "attachments" / note.files[1].name).write_bytes(b"changed.")
    assert verify(folder).changed == ("attachments/0001-2-half-part",)


def test_notes_are_numbered_and_each_keeps_the_seal_before_it(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    for number in (1, 2, 3):
        assert noted(folder, f"note {number}").number == number
    assert verify(folder).problems == ()
    sealed = [note.former_seal["files"] for note in read_notes(folder) if note.former_seal]
    assert [len(files) for files in sealed] == [6, 7, 8]


def test_a_note_in_a_running_run_is_sealed_at_its_end(tmp_path: Path) -> None:
    clock = HandClock()
    folder = new_run(tmp_path, clock)
    assert noted(folder.folder).former_seal is None
    measure_step(folder, clock, 1)
    finish(folder)
    assert verify(folder.folder).problems == ()
    (folder.folder / "attachments" / "note-0001.json").unlink()
    assert verify(folder.folder).changed == ("attachments/note-0001.json",)


def test_a_note_in_a_stopped_run_survives_its_resume(tmp_path: Path) -> None:
    folder = finished_run(tmp_path, state="stopped", steps=1)
    noted(folder, "stopped: belt off")
    clock = HandClock()
    again = reopen(folder, clock, files=QUICK, sync_every_s=None)
    measure_step(again, clock, 2)
    finish(again)
    noted(folder, "went well")
    assert verify(folder).problems == ()
    assert [note.text for note in read_notes(folder)] == ["stopped: belt off", "went well"]


@pytest.mark.parametrize("name", ["samples.csv", RUN_FILE, SEAL_FILE, "x.txt"])
def test_a_note_never_covers_up_a_change(tmp_path: Path, name: str) -> None:
    folder = finished_run(tmp_path)
    path = folder / name
    path.write_bytes(path.read_bytes().replace(b"13.5", b"13.6") + b" " if path.exists() else b"x")
    before = content(folder)
    with pytest.raises(RunFileError, match="cover that up"):
        noted(folder)
    assert content(folder) == before


def test_a_note_needs_the_key_of_a_signed_run(tmp_path: Path) -> None:
    key = new_key(tmp_path / "workshop.pem")
    folder = finished_run(tmp_path / "shelf", key=key)
    with pytest.raises(RunFileError, match="is signed"):
        noted(folder)
    noted(folder, key=key)
    report = verify(folder, trusted={key.fingerprint})
    assert (report.sealed, report.known) == (True, True)


def test_another_workshop_may_add_a_note_under_its_own_key(tmp_path: Path) -> None:
    first, second = new_key(tmp_path / "first.pem"), new_key(tmp_path / "second.pem")
    folder = finished_run(tmp_path / "shelf", key=first)
    noted(folder, key=second)
    report = verify(folder, trusted={first.fingerprint})
    assert (report.sealed, report.known, report.key) == (True, True, first.fingerprint)
    told = [(one.what, one.signed, one.key, one.known) for one in report.seals]
    assert told == [
        ("test", True, first.fingerprint, True),
        ("note", True, second.fingerprint, False),
    ]


def test_a_signed_note_does_not_sign_a_test_that_was_not_signed(tmp_path: Path) -> None:
    key = new_key(tmp_path / "workshop.pem")
    folder = finished_run(tmp_path / "shelf")
    note = noted(folder, key=key)
    report = verify(folder, trusted={key.fingerprint})
    assert (report.sealed, report.signature, report.key, report.known) == (True, "none", "", False)
    test, of_note = (one.as_json() for one in report.seals)
    assert test["what"] == "test"
    assert (test["note"], test["signed"], test["key"], test["known"]) == (None, False, None, False)
    assert (of_note["what"], of_note["note"]) == ("note", note.file)
    assert (of_note["signed"], of_note["key"]) == (True, key.fingerprint)
    assert of_note["known"] is True
    assert of_note["sealed_utc"] == note.utc == report.sealed_utc
    assert report.as_json()["seals"] == [test, of_note]


def test_the_seals_of_a_run_gone_on_with_between_notes_are_told_in_their_order(
    tmp_path: Path,
) -> None:
    """The test's own seal is that of its end, not the one of before it was resumed."""
    first, second = new_key(tmp_path / "first.pem"), new_key(tmp_path / "second.pem")
    folder = finished_run(tmp_path / "shelf", state="stopped", steps=1, key=first)
    noted(folder, "stopped: belt off", key=first)
    clock = HandClock()
    clock.advance(3600.0 * 24 * 365 * 10)
    again = reopen(folder, clock, key=second, files=QUICK, sync_every_s=None)
    measure_step(again, clock, 2)
    finish(again)
    report = verify(folder, trusted={first.fingerprint})
    assert report.problems == ()
    told = [(one.what, one.key) for one in report.seals]
    assert told == [
        ("test", first.fingerprint),
        ("note", first.fingerprint),
        ("test", second.fingerprint),
    ]
    assert (report.key, report.known) == (second.fingerprint, False)


def test_the_seals_are_told_in_the_order_they_were_made_whatever_a_fast_clock_says(
    tmp_path: Path,
) -> None:
    """A simulated run ends in the future of the computer that then adds a note to it."""
    folder = finished_run(tmp_path)
    behind = HandClock()
    for text in ("first", "second"):
        behind = HandClock(start_utc=behind.utc() - timedelta(hours=1))
        add_note(folder, text, who="bench", clock=behind, files=QUICK)
    report = verify(folder)
    assert report.sealed
    assert [one.note for one in report.seals] == [
        None,
        "attachments/note-0001.json",
        "attachments/note-0002.json",
    ]


def test_a_forged_circle_of_former_seals_ends(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    noted(folder)
    path = folder / "attachments" / "note-0001.json"
    table = json.loads(path.read_bytes())
    table["former_seal"] = json.loads((folder / SEAL_FILE).read_bytes())
    path.write_bytes(many_lines(table))
    report = verify(folder)
    assert not report.sealed
    assert [one.what for one in report.seals] == ["note", "note"]


@pytest.mark.parametrize("source", ["gone.jpg", "."])
def test_an_attachment_that_is_no_file_is_named_and_nothing_is_added(
    tmp_path: Path, source: str
) -> None:
    folder = finished_run(tmp_path / "shelf")
    with pytest.raises(RunFileError, match="is not a file"):
        noted(folder, "x", tmp_path / source)
    assert verify(folder).sealed


def test_a_note_cut_off_is_named_and_its_files_are_never_written_over(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    (folder / "attachments").mkdir()
    left = folder / "attachments" / "0001-1-photo.jpg"
    left.write_bytes(b"from an interrupted note")
    assert verify(folder).changed == ("attachments/0001-1-photo.jpg",)
    with pytest.raises(RunFileError, match="cover that up"):
        noted(folder)
    assert left.read_bytes() == b"from an interrupted note"


def test_a_spoilt_note_is_named(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    noted(folder)
    path = folder / "attachments" / "note-0001.json"
    path.write_text("{}")
    with pytest.raises(RunFileError, match="note-0001"):
        read_notes(folder)
    assert "attachments/note-0001.json" in verify(folder).changed


def test_a_figure_may_go_with_a_note(tmp_path: Path) -> None:
    folder = finished_run(tmp_path)
    add_note(folder, "judged again", who="bench", data={"outcome": "fail", "p": 0.1}, files=QUICK)
    assert read_notes(folder)[0].data == {"outcome": "fail", "p": 0.1}


def test_a_book_is_no_note(tmp_path: Path) -> None:
    with pytest.raises(RunFileError, match="too long"):
        noted(finished_run(tmp_path), "x" * 100_001)
