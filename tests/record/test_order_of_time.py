"""A journal never goes back in time, and no record is sealed in the future."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from acquire.record.journal import JournalEntry
from acquire.record.read_run import read_run
from acquire.record.reopen import reopen
from acquire.record.run_folder import RunFolder
from acquire.record.run_name import utc_of
from acquire.record.verify import verify
from drivers.clock import HandClock, ScaledClock
from tests.moved_wall import Wall, moved_wall
from tests.record.runs import QUICK, finish, header, measure_step, new_run

PACE = 8.0


def test_what_happened_earlier_keeps_its_own_time_beside_that_of_the_line(tmp_path: Path) -> None:
    clock = HandClock()
    folder = new_run(tmp_path, clock)
    clock.advance(0.5)
    folder.append("cautions accepted", {"how": "--yes"})
    folder.append("port", {"what": "opened"}, t_s=-2.09)
    clock.advance(0.25)
    folder.append("tick", {}, t_s=0.7)
    folder.append("answer", {})
    folder.append("tick", {}, t_s=0.71)
    folder.close()
    told = read_run(folder.folder).journal[1:]
    assert [entry.t_s for entry in told] == [0.5, 0.5, 0.7, 0.75, 0.75]
    assert [entry.at_s for entry in told] == [0.5, -2.09, 0.7, 0.75, 0.71]
    assert told[1].data == {"at_s": -2.09, "what": "opened"}
    assert told[2].data == {}, "a line in order tells its time once"


def test_the_time_of_the_line_is_the_journals_own(tmp_path: Path) -> None:
    with new_run(tmp_path) as folder, pytest.raises(ValueError, match="at_s"):
        folder.append("port", {"at_s": 1.0})


@pytest.fixture
def wall(monkeypatch: pytest.MonkeyPatch) -> Wall:
    return moved_wall(monkeypatch)


def utcs(entries: tuple[JournalEntry, ...]) -> list[datetime]:
    """The wall times of the lines."""
    return [utc_of(entry.utc) for entry in entries]


def test_a_sped_up_run_is_sealed_and_gone_on_with_by_the_wall_clock(
    tmp_path: Path, wall: Wall
) -> None:
    folder = RunFolder.create(tmp_path, header(), ScaledClock(PACE), files=QUICK, sync_every_s=None)
    wall.passed_s = 10.0
    folder.append("speed", {"shaft_rpm": 1500.0})
    finish(folder, state="stopped")
    run = read_run(folder.folder)
    assert run.journal[-1].t_s == pytest.approx(80.0)
    assert run.header.ended_utc is not None
    assert utc_of(run.header.ended_utc) == wall.utc_now()
    assert verify(folder.folder).sealed_utc == run.header.ended_utc
    wall.passed_s = 13.0
    again = reopen(folder.folder, ScaledClock(PACE), files=QUICK, sync_every_s=None)
    wall.passed_s = 14.0
    again.append("speed", {"shaft_rpm": 1800.0})
    finish(again)
    run = read_run(folder.folder)
    (resumed,) = [entry for entry in run.journal if entry.kind == "resumed"]
    assert resumed.data["gap_s"] == pytest.approx(3.0), "seconds on the wall, between the lines"
    assert resumed.t_s == pytest.approx(83.0)
    assert run.journal[-1].t_s == pytest.approx(91.0)
    assert utcs(run.journal) == sorted(utcs(run.journal))
    assert utcs(run.journal)[-1] == wall.utc_now()
    assert verify(folder.folder).sealed


def test_a_gap_counts_from_the_last_line_and_never_goes_back(tmp_path: Path) -> None:
    clock = HandClock()
    with new_run(tmp_path, clock) as folder:
        measure_step(folder, clock, 1)
    clock.advance(42.0)
    for late_s, t_s in ((0.0, clock.monotonic_s()), (-3600.0, clock.monotonic_s())):
        later = HandClock(start_utc=clock.utc() + timedelta(seconds=late_s))
        reopen(folder.folder, later, files=QUICK, sync_every_s=None).close()
        resumed = read_run(folder.folder).journal[-1]
        assert resumed.kind == "resumed"
        assert resumed.t_s == pytest.approx(t_s)
