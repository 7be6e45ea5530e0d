"""What the day on the bench brought to light, each once by itself."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from acquire.errors import RunFileError
from acquire.record.files import Handle
from acquire.record.read_run import read_run
from acquire.record.reopen import reopen
from acquire.record.run_folder import RunFolder
from drivers.clock import HandClock
from tests.endurance.disk import RoughDisk
from tests.endurance.judged import breaches, stops
from tests.endurance.made import AT_SPEED_S, swept
from tests.endurance.world import World
from tests.record.runs import QUICK, header


@pytest.mark.parametrize("rig", ["driven", "driven on serial lines", "pile"])
@pytest.mark.parametrize("kind", ["write hangs", "sync hangs"])
def test_a_disk_that_hangs_stops_the_drive_in_bounded_time(
    tmp_path: Path, rig: str, kind: str
) -> None:
    happened = swept(tmp_path, (kind, "", AT_SPEED_S), rig=rig, for_s=60.0)
    assert list(breaches(happened)) == []
    if kind == "write hangs":
        (hang,) = [one for one in stops(happened) if one.kind == "readings not looked at"]
        assert 4.0 < hang.took_s < 7.0
        report = happened.parts[0].report
        assert report is not None
        assert "not looked at" in report.reason.words


def test_the_order_of_the_stop_does_not_wait_for_a_journal_that_hangs(tmp_path: Path) -> None:
    happened = swept(tmp_path, ("write hangs", "", AT_SPEED_S), rig="bank", for_s=0.5)
    report = happened.parts[0].report
    assert report is not None
    shed = next(event for event in report.events if event.words == "load shed")
    assert shed.t_s - report.tripped_s < 25.0, "the disk hangs for 90 s, the load is shed before"
    assert list(breaches(happened)) == []


@pytest.mark.parametrize("kind", ["disk full", "disk broken", "disk read-only", "sync refused"])
def test_a_record_that_cannot_be_finished_is_let_go_and_goes_on_in_the_same_program(
    tmp_path: Path, kind: str
) -> None:
    happened = swept(tmp_path, (kind, "", AT_SPEED_S), goes_on=True)
    first, second = happened.parts
    assert first.error
    assert not first.sealed
    assert second.sealed
    assert list(breaches(happened)) == []


def test_a_run_that_cannot_begin_leaves_nothing_open(tmp_path: Path) -> None:
    for at_s in (1.9, 1.95, 2.0):
        happened = swept(tmp_path / str(at_s), ("disk full", "", at_s))
        assert happened.leaks == []
        assert list(breaches(happened)) == []


def test_a_current_that_comes_and_goes_does_not_hold_up_a_sweep_by_hand(tmp_path: Path) -> None:
    happened = swept(tmp_path, ("brush worn", "", 8.0), rig="aboard")
    (part,) = happened.parts
    assert not part.overdue
    assert part.found is not None
    assert part.found.state == "complete"
    assert list(breaches(happened)) == []
    assert part.folder is not None
    asked = (part.folder / "journal.jsonl").read_text().count("CLOSE THE PILE")
    assert 0 < asked < 20


def pile_at_the_stop(run: Path) -> tuple[bool, bool]:
    """Whether the pile was closed when the run stopped, and whether somebody was told then."""
    closed = stopping = told = False
    for entry in read_run(run).journal:
        data: dict[str, Any] = dict(entry.data)
        if entry.kind == "load noticed" and not stopping:
            closed = bool(data["on"])
        stopping = stopping or entry.kind == "stopping"
        told = told or (stopping and data.get("words") == "OPEN THE PILE")
    return closed, told


@pytest.mark.parametrize("rig", ["pile", "aboard"])
def test_a_pile_that_is_closed_when_a_run_stops_is_called_out(tmp_path: Path, rig: str) -> None:
    seen = set()
    for at_s in (5.0, 12.0, 15.0):
        happened = swept(tmp_path / str(at_s), ("SIGTERM", "", at_s), rig=rig)
        (part,) = happened.parts
        assert part.folder is not None
        assert part.report is not None
        closed, told = pile_at_the_stop(part.folder)
        assert told is closed
        assert closed is any("OPEN THE PILE" in event.words for event in part.report.events)
        assert list(breaches(happened)) == []
        seen.add(closed)
    assert seen == {True, False}


class FewFiles(RoughDisk):
    """Lets a program open only so many files, one after the other."""

    left = 0

    def open_append(self, path: Path) -> Handle:
        self.left -= 1
        if self.left < 0:
            self._refuse("EMFILE")
        return super().open_append(path)


def test_a_run_whose_files_cannot_all_be_opened_keeps_none_of_them_open(tmp_path: Path) -> None:
    refused = 0
    for number in range(40):
        disk = FewFiles(QUICK, World("few files"))
        disk.left = number
        shelf = tmp_path / str(number)
        try:
            RunFolder.create(shelf, header(), HandClock(), files=disk, sync_every_s=None).close()
        except RunFileError:
            refused += 1
            assert not disk.handles
            continue
        (folder,) = shelf.iterdir()
        for again in range(10):
            disk.left = again
            try:
                reopen(folder, HandClock(), files=disk, sync_every_s=None).close()
            except RunFileError:
                refused += 1
                assert not disk.handles
        break
    assert refused >= 10


def test_a_clamp_that_fails_for_a_moment_leaves_no_pile_closed_unseen(tmp_path: Path) -> None:
    fault = ("clamp saturated", "", 49.97)
    happened = swept(tmp_path, fault, rig="aboard", method="quick", for_s=2.0)
    (part,) = happened.parts
    assert not part.overdue
    assert part.found is not None
    assert part.found.state == "complete"


def test_a_point_that_the_disk_refused_is_not_taken_by_a_replay_either(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(run: RunFolder, *_more: object, **_named: object) -> None:
        raise RunFileError(run.folder, "the disk refuses.")

    monkeypatch.setattr(RunFolder, "take_point", refuses)
    happened = swept(tmp_path)
    assert not happened.parts[0].announced
    assert [one.kind for one in breaches(happened)] == []
