"""Folders kept as an older program wrote them: read, verified, noted and gone on with by this one.

`stored_runs/schema-1` is a run of the simulated rig, written by the commands at schema 1: signed,
stopped by Ctrl-C, resumed, and given a note. Here a program of schema 2 is made of this one.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from acquire.record import migrate, notes, run_header, seal, verdict_file
from acquire.record.add_note import add_note
from acquire.record.json_text import read_json
from acquire.record.keys import load_key, new_key, trusted_fingerprints
from acquire.record.notes import read_notes
from acquire.record.read_run import read_run
from acquire.record.reopen import reopen
from acquire.record.run_header import RUN_FILE
from acquire.record.seal import SEAL_FILE
from acquire.record.verify import verify
from acquire.replay import replay
from drivers.clock import HandClock
from tests.record.runs import QUICK, finish, measure_step, new_run
from tests.samples.make import CHECKOUT

STORED = Path(__file__).parent / "stored_runs"
KEY = trusted_fingerprints([str(STORED / "schema-1.pub.pem")])
FOLDERS = [STORED / "schema-1", *sorted((CHECKOUT / "sample_runs").glob("*-*"))]
NAMES = [folder.name for folder in FOLDERS]


@pytest.fixture
def schema_2(monkeypatch: pytest.MonkeyPatch) -> None:
    """A program in which each kind of file has changed once."""
    for module in (migrate, notes, run_header, seal, verdict_file):
        monkeypatch.setattr(module, "SCHEMA", 2)
    monkeypatch.setattr(run_header, "RUN_STEPS", {1: renamed("operator", "tested_by")})
    monkeypatch.setattr(verdict_file, "VERDICT_STEPS", {1: lambda old: {**old, "graded": True}})
    monkeypatch.setattr(notes, "NOTE_STEPS", {1: lambda old: {**old, "why": old["why"] or "-"}})


def renamed(old_key: str, new_key: str) -> Callable[[dict[str, Any]], dict[str, Any]]:
    """A step that adds `new_key`; the old one stays for the reader of today."""
    return lambda old: {**old, new_key: old[old_key]}


def test_todays_program_reads_the_stored_folder() -> None:
    folder = STORED / "schema-1"
    report = verify(folder, KEY)
    assert report.sealed, report.problems
    assert replay(read_run(folder)).same


@pytest.mark.usefixtures("schema_2")
@pytest.mark.parametrize("folder", FOLDERS, ids=NAMES)
def test_a_later_program_brings_them_up_to_date_and_their_seals_hold(folder: Path) -> None:
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    run = read_run(folder)
    assert run.header.schema_ == 2
    assert run.header.table()["tested_by"] == run.header.operator == "T. Example"
    assert run.verdict is not None
    assert (run.verdict["schema"], run.verdict["graded"]) == (2, True)
    report = verify(folder, KEY)
    assert report.sealed, report.problems
    if folder.parent == STORED:
        assert replay(run).same
    assert {path: path.read_bytes() for path in before} == before


@pytest.mark.usefixtures("schema_2")
def test_the_signatures_of_an_older_program_stay_valid_and_known() -> None:
    report = verify(STORED / "schema-1", KEY)
    assert (report.signature, report.known) == ("valid", True)
    assert [one.known for one in report.seals] == [True, True, True]
    (note,) = read_notes(STORED / "schema-1")
    assert note.text == "slip rings turned"


@pytest.mark.usefixtures("schema_2")
def test_a_later_program_notes_an_older_run_and_leaves_its_files_alone(tmp_path: Path) -> None:
    """run.json stays as the older program wrote it: the new seal is over those very bytes."""
    key = new_key(tmp_path / "key.pem")
    folder = shutil.copytree(CHECKOUT / "sample_runs" / "pass-van-alternator", tmp_path / "run")
    written = (folder / RUN_FILE).read_bytes()
    add_note(folder, "seen again", who="T. Example", key=key, files=QUICK)
    assert (folder / RUN_FILE).read_bytes() == written
    seal_now = read_json(folder / SEAL_FILE)
    assert isinstance(seal_now, dict)
    assert seal_now["schema"] == 2
    report = verify(folder, {load_key(tmp_path / "key.pem").public.fingerprint})
    assert report.sealed, report.problems
    assert [one.signature for one in report.seals] == ["none", "valid"]


def test_a_later_program_goes_on_with_an_older_run(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    began = new_run(tmp_path)
    measure_step(began, HandClock(), 1)
    finish(began, state="stopped")
    request.getfixturevalue("schema_2")
    clock = HandClock()
    clock.advance(3600.0)
    again = reopen(began.folder, clock, files=QUICK, sync_every_s=None)
    measure_step(again, clock, 2)
    finish(again)
    assert read_run(began.folder).header.schema_ == 2
    report = verify(began.folder)
    assert report.sealed, report.problems
    assert len(report.seals) == 2
