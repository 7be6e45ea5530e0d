"""The ready page offers the newest run that did not end, whatever was tested since."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.screens.choices import Choices
from acquire.screens.memory import Memory
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


def test_a_run_that_another_program_writes_is_not_offered(shelf: Path) -> None:
    shelf.mkdir()
    written = new_run(shelf, HandClock())
    assert remembered(shelf).interrupted_folder is None
    written.close()
    assert remembered(shelf).interrupted_folder is not None
