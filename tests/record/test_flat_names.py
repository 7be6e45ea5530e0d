"""A record as it comes out of a PDF: no folder in it, and the same seal."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from acquire.errors import RunFileError
from acquire.record.add_note import add_note
from acquire.record.flat_names import flat_name, lies_flat
from acquire.record.notes import read_notes
from acquire.record.reopen import reopen
from acquire.record.verify import verify
from drivers.clock import HandClock
from tests.record.runs import QUICK, finished_run


def _flat(tmp_path: Path) -> Path:
    """A finished run with a note and a file, its attachments beside the rest."""
    run = finished_run(tmp_path / "shelf")
    photo = tmp_path / "photo.png"
    photo.write_bytes(b"a photo")
    add_note(run, "belt changed", who="T. Example", attach=[photo], files=QUICK)
    for path in (run / "attachments").iterdir():
        path.rename(run / flat_name(f"attachments/{path.name}"))
    (run / "attachments").rmdir()
    return run


def test_it_is_verified_as_the_record_it_is(tmp_path: Path) -> None:
    run = _flat(tmp_path)
    assert lies_flat(run)
    assert (run / "attachments+note-0001.json").is_file()
    checked = verify(run)
    assert checked.problems == ()
    assert checked.sealed
    assert [note.text for note in read_notes(run)] == ["belt changed"]


@pytest.mark.parametrize(
    ("name", "wrong"),
    [("attachments+0001-1-photo.png", "changed"), ("attachments+note-0001.json", "changed")],
)
def test_a_changed_byte_is_found_and_named_as_in_the_seal(
    tmp_path: Path, name: str, wrong: str
) -> None:
    run = _flat(tmp_path)
    data = (run / name).read_bytes()
    (run / name).write_bytes(data.replace(b"a", b"e", 1))
    problems = verify(run).problems
    assert (name.replace("+", "/"), wrong) in {(one.file, one.wrong) for one in problems}


def test_what_is_missing_or_added_is_found(tmp_path: Path) -> None:
    run = _flat(tmp_path)
    (run / "attachments+0001-1-photo.png").unlink()
    (run / "attachments+0002-1-other.png").write_bytes(b"x")
    found = {(one.file, one.wrong) for one in verify(run).problems}
    assert found == {
        ("attachments/0001-1-photo.png", "missing"),
        ("attachments/0002-1-other.png", "added"),
    }


def test_beside_a_folder_of_attachments_such_a_name_is_just_a_file_added(tmp_path: Path) -> None:
    """Otherwise it could stand in for, or hide, one in the folder."""
    run = _flat(tmp_path)
    (run / "attachments").mkdir()
    (run / "attachments" / "0001-1-photo.png").write_bytes(b"another photo")
    found = {(one.file, one.wrong) for one in verify(run).problems}
    assert ("attachments/0001-1-photo.png", "changed") in found
    assert ("attachments+0001-1-photo.png", "added") in found


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights on Windows")
def test_a_link_is_no_attachment(tmp_path: Path) -> None:
    run = _flat(tmp_path)
    path = run / "attachments+0001-1-photo.png"
    path.rename(tmp_path / "elsewhere")
    path.symlink_to(tmp_path / "elsewhere")
    assert not verify(run).sealed


def test_a_folder_that_cannot_be_listed_is_told_as_that(tmp_path: Path) -> None:
    with pytest.raises(RunFileError, match="not there") as told:
        lies_flat(tmp_path / "gone")
    assert told.value.what_to_do


def test_nothing_is_added_to_it(tmp_path: Path) -> None:
    run = _flat(tmp_path)
    before = sorted(path.name for path in run.iterdir())
    with pytest.raises(RunFileError, match="came out of a PDF") as refused:
        add_note(run, "another", who="T. Example", files=QUICK)
    assert "Make a folder attachments" in refused.value.what_to_do
    with pytest.raises(RunFileError, match="came out of a PDF"):
        reopen(run, HandClock(), files=QUICK)
    assert sorted(path.name for path in run.iterdir()) == before
