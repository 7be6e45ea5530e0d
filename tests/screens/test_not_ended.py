"""The ready page offers the newest run that did not end, whatever was tested since."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.findings.seen import CANNOT_SEE
from acquire.screens.choices import Choices
from acquire.screens.look import Look
from acquire.screens.memory import Memory
from acquire.screens.result_facts import ResultFacts, facts_of_folder
from acquire.screens.result_view import result_rows
from acquire.screens.rows import text_of
from drivers.clock import HandClock
from tests.live.cut_runs import killed_after
from tests.record.runs import new_run
from tests.screens.stand_in import make_run


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    return tmp_path / "shelf"


def remembered(shelf: Path) -> Memory:
    """What the shelf knows, read."""
    memory = Memory(shelf, Choices)
    memory.refresh()
    memory.wait()
    return memory


def test_a_finished_test_of_another_unit_does_not_hide_the_broken_one(shelf: Path) -> None:
    cut = killed_after("pass-van-alternator", 2, shelf / "2026-02-28T101010Z-J-2101-abcd")
    make_run(shelf, serial="B-9", day=4)
    memory = remembered(shelf)
    assert memory.interrupted_folder is not None
    assert memory.interrupted_folder.samefile(cut)
    assert memory.interrupted_words.startswith("The run of SF90-0417 (")
    assert memory.interrupted_words.endswith(") did not end.")


def test_the_newest_is_offered_and_the_others_are_counted(shelf: Path) -> None:
    for day, serial in ((2, "A-1"), (3, "B-2"), (5, "C-3")):
        make_run(shelf, serial=serial, day=day, complete=False)
    make_run(shelf, serial="D-4", day=6)
    words = remembered(shelf).interrupted_words
    assert words == "The run of C-3 (2026-03-05) did not end; 2 more."


def test_a_unit_tested_to_the_end_since_is_not_offered(shelf: Path) -> None:
    make_run(shelf, serial="A-1", day=2, complete=False)
    make_run(shelf, serial="a 1", day=3)
    memory = remembered(shelf)
    assert (memory.interrupted_folder, memory.interrupted_words) == (None, "")


def test_a_unit_without_a_serial_is_known_by_what_it_is(shelf: Path) -> None:
    make_run(shelf, serial=None, unit="ferry, port engine", day=2, complete=False)
    make_run(shelf, serial=None, unit="ferry, stbd engine", day=3, complete=False)
    make_run(shelf, serial=None, unit="Ferry port engine", day=4)
    words = remembered(shelf).interrupted_words
    assert words == "The run of ferry, stbd engine (2026-03-03) did not end."


def test_a_run_without_a_name_is_told_by_its_four_letters(shelf: Path) -> None:
    folder = make_run(shelf, serial=None, unit=None, job=None, complete=False)
    make_run(shelf, serial=None, unit=None, job=None, day=3)
    words = remembered(shelf).interrupted_words
    assert words == f"The run {folder.name[-4:]} (2026-03-02) did not end."


def test_what_did_not_end_long_before_the_newest_run_is_left_to_the_shelf(shelf: Path) -> None:
    for day, serial in ((2, "A-1"), (10, "B-2")):
        make_run(shelf, serial=serial, day=day, complete=False)
    make_run(shelf, serial="D-4", day=17)
    assert remembered(shelf).interrupted_words == "The run of B-2 (2026-03-10) did not end."


def test_a_run_whose_meter_did_not_measure_is_not_offered_anywhere(shelf: Path) -> None:
    blind = {CANNOT_SEE: {"why": "The meter is on HOLD."}}
    folder = make_run(shelf, complete=False, journal=blind)
    assert remembered(shelf).interrupted_folder is None
    facts = facts_of_folder(folder)
    assert not facts.goes_on
    assert "[g]o on" not in bottom_of(facts)
    other = facts_of_folder(make_run(shelf, complete=False))
    assert other.goes_on
    assert "[g]o on with it" in bottom_of(other)


def bottom_of(facts: ResultFacts) -> str:
    rows = result_rows(facts, 80, 24, Look(), live=True)
    return " ".join(text_of(one) for one in rows[-3:])


def test_a_run_that_another_program_writes_is_not_offered(shelf: Path) -> None:
    shelf.mkdir()
    written = new_run(shelf, HandClock())
    assert remembered(shelf).interrupted_folder is None
    written.close()
    assert remembered(shelf).interrupted_folder is not None
