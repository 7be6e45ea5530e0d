"""A run enters the index when it begins and when it ends, and is never disturbed by that."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import pytest

from acquire.shelf.note_run import note_run
from acquire.shelf.shelf import open_shelf
from tests.record.runs import finish, measure_step, new_run
from tests.shelf.shelves import Told, put


def outcomes(shelf: Path) -> list[str]:
    """As the index has it, without looking at the folders."""
    with open_shelf(shelf, refresh=False) as opened:
        return [one.outcome_word for one in opened.page().entries]


def test_a_run_is_noted_when_it_begins_and_when_it_ends(tmp_path: Path) -> None:
    from drivers.clock import HandClock

    clock = HandClock()
    run = new_run(tmp_path, clock)
    assert note_run(run.folder).wait(30)
    assert outcomes(tmp_path) == ["not finished"]
    measure_step(run, clock, 1)
    finish(run)
    assert note_run(run.folder).wait(30)
    assert outcomes(tmp_path) == ["pass"]


def test_the_seal_still_holds_with_the_index_beside_the_run(tmp_path: Path) -> None:
    from acquire.record.verify import verify
    from tests.record.runs import finished_run

    folder = finished_run(tmp_path)
    assert note_run(folder).wait(30)
    report = verify(folder, {})
    assert report.sealed
    assert report.problems == ()


@pytest.mark.parametrize("error", [OSError("x"), MemoryError(), KeyError("x"), RuntimeError("x")])
def test_nothing_that_goes_wrong_reaches_the_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    def fail(*_ignored: object) -> None:
        raise error

    monkeypatch.setattr("acquire.shelf.shelf.open_shelf", fail)
    assert note_run(tmp_path / "run").wait(30)


def test_wrong_settings_do_not_reach_the_run(tmp_path: Path, nobody_elses_settings: Path) -> None:
    (nobody_elses_settings / "settings.toml").write_text("shelf = 3\n")
    assert note_run(put(tmp_path, Told("aaaa"))).wait(30)


def test_it_returns_at_once_however_long_the_index_takes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    held = threading.Event()

    def wait(_folder: Path) -> None:
        held.wait(30)

    monkeypatch.setattr("acquire.shelf.where.server_of", wait)
    began_s = time.monotonic()
    over = [note_run(tmp_path / "run") for _ in range(3)]
    assert time.monotonic() - began_s < 5.0  # held, it would be 30 s and more
    assert not any(one.is_set() for one in over)
    held.set()
    assert all(one.wait(30) for one in over)


def test_where_no_thread_can_begin_the_run_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_thread: threading.Thread) -> None:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(threading.Thread, "start", refuse)
    assert note_run(tmp_path / "run").is_set()
