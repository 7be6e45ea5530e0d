"""A full, failing or read-only disk: one clear error, and a writer that stays whole."""

from __future__ import annotations

import errno
import os
import threading
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from acquire.errors import RunFileError
from acquire.record import growing_file
from acquire.record.files import Handle, file_error, replace_file
from acquire.record.growing_file import GrowingFile
from acquire.record.read_run import read_run
from acquire.record.reopen import reopen
from acquire.record.run_folder import RunFolder
from acquire.record.samples import SAMPLES_FILE
from acquire.record.sync_thread import SyncThread
from acquire.record.verify import verify
from drivers.clock import HandClock
from profiles.errors import BenchError
from tests.record.runs import (
    QUICK,
    NoSync,
    NoSyncHandle,
    finish,
    finished_run,
    header,
    measure_step,
    new_run,
    point,
    readings_at,
)


@dataclass
class Trouble(NoSync):
    """A disk that has so much room, and whose sync may fail."""

    room: int = 10**9
    sync_error: int | None = None
    rename_error: int | None = None
    tried: list[str] = field(default_factory=list)

    def open_append(self, path: Path) -> NoSyncHandle:
        return TroubleHandle(path, self)

    def rename(self, old: Path, new: Path) -> None:
        if self.rename_error:
            raise OSError(self.rename_error, os.strerror(self.rename_error))
        QUICK.rename(old, new)


class TroubleHandle(NoSyncHandle):
    """Takes what there is room for, then refuses."""

    def __init__(self, path: Path, disk: Trouble) -> None:
        super().__init__(path)
        self._whole, self._disk = self.write, disk
        self.write = self._some

    def _some(self, data: bytes) -> int:
        if self._disk.room <= 0 < len(data):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        written = self._whole(data[: self._disk.room])
        self._disk.room -= written
        return written

    def sync(self) -> None:
        if self._disk.sync_error:
            raise OSError(self._disk.sync_error, os.strerror(self._disk.sync_error))


def run_on(disk: Trouble, tmp_path: Path, clock: HandClock) -> RunFolder:
    """A run with one step taken before the trouble begins."""
    folder = new_run(tmp_path, clock, files=disk)
    measure_step(folder, clock, 1)
    return folder


@pytest.mark.parametrize("room", [0, 1, 7, 30, 64])
def test_a_full_disk_is_named_and_nothing_is_lost_once_there_is_room(
    tmp_path: Path, room: int
) -> None:
    clock, disk = HandClock(), Trouble()
    folder = run_on(disk, tmp_path, clock)
    readings = readings_at(folder, clock, 1500.0)
    disk.room = room
    with pytest.raises(RunFileError) as caught:
        folder.add_readings(readings * 3)
    assert caught.value.file == folder.folder / SAMPLES_FILE
    assert os.strerror(errno.ENOSPC) in str(caught.value)
    assert "make room" in caught.value.what_to_do
    with pytest.raises(RunFileError):
        folder.append("stop", {"why": "disk"})
    disk.room = 10**9
    rows = folder.sample_rows
    folder.append("at rest")
    finish(folder)
    run = read_run(folder.folder)
    assert len(list(run.samples())) == rows
    assert [entry.kind for entry in run.journal][-3:] == ["stop", "at rest", "ended"]
    assert verify(folder.folder).sealed


def test_closing_works_on_a_full_disk_and_the_run_can_go_on_later(tmp_path: Path) -> None:
    clock, disk = HandClock(), Trouble()
    folder = run_on(disk, tmp_path, clock)
    disk.room = 5
    with pytest.raises(RunFileError):
        folder.add_readings(readings_at(folder, clock, 1500.0))
    with pytest.raises(RunFileError):
        folder.close()
    folder.close()
    with pytest.raises(RunFileError, match="is closed"):
        folder.append("late")
    again = reopen(folder.folder, clock, files=QUICK, sync_every_s=None)
    assert [row.step for row in again.curve] == [1]
    finish(again)
    assert verify(folder.folder).sealed


def test_memory_is_bounded_while_the_disk_takes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(growing_file, "MOST_HELD_BACK", 2000)
    clock, disk = HandClock(), Trouble()
    folder = run_on(disk, tmp_path, clock)
    disk.room = 0
    words = set()
    for _ in range(100):
        with pytest.raises(RunFileError) as caught:
            folder.add_readings(readings_at(folder, clock, 1500.0))
        words.add(str(caught.value).split(": ", 1)[1][:40])
    assert len(words) == 2
    assert folder.sample_rows < 120
    disk.room = 10**9
    folder.close()
    assert len(list(read_run(folder.folder).samples())) == folder.sample_rows


@pytest.mark.parametrize("room", [0, 10, 100, 245, 300])
def test_a_point_the_disk_refused_is_kept_in_memory_and_written_with_room(
    tmp_path: Path, room: int
) -> None:
    """Refused in the journal or in the curve: it stands in both once there is room."""
    clock, disk = HandClock(), Trouble()
    folder = run_on(disk, tmp_path, clock)
    disk.room = room
    with pytest.raises(RunFileError):
        folder.take_point(point(2))
    disk.room = 10**9
    folder.close()
    run = read_run(folder.folder)
    assert [row.measured for row in run.curve] == [point(1), point(2)]
    assert run.tails == ()


def test_a_refused_sync_is_never_believed_again(tmp_path: Path) -> None:
    """After a failed fsync the system may drop the data and report success the next time
    (Rebello et al., "Can Applications Recover from fsync Failures?", USENIX ATC 2020)."""
    clock, disk = HandClock(), Trouble()
    folder = run_on(disk, tmp_path, clock)
    folder.append("speed")
    disk.sync_error = errno.EIO
    with pytest.raises(RunFileError, match=os.strerror(errno.EIO)) as caught:
        folder.sync()
    assert "check it" in caught.value.what_to_do
    disk.sync_error = None
    with pytest.raises(RunFileError):
        folder.append("speed")
    with pytest.raises(RunFileError):
        measure_step(folder, clock, 2)
    assert [row.step for row in folder.curve] == [1]


def test_a_sync_refused_in_the_background_shows_at_the_next_call(tmp_path: Path) -> None:
    disk = Trouble(sync_error=errno.EIO)
    file = GrowingFile(disk, tmp_path / "x")
    file.add(b"1")
    thread = SyncThread([file], every_s=0.001)
    thread._thread.join(10.0)
    with pytest.raises(RunFileError, match=os.strerror(errno.EIO)):
        file.add(b"2")
    file.close()
    assert (tmp_path / "x").read_bytes() == b"12"


def test_the_background_thread_syncs_what_was_added(tmp_path: Path) -> None:
    synced = threading.Event()

    class Telling(NoSync):
        def open_append(self, path: Path) -> NoSyncHandle:
            handle = NoSyncHandle(path)
            handle.sync = synced.set  # type: ignore[method-assign]
            return handle

    folder = RunFolder.create(tmp_path, header(), HandClock(), files=Telling(), sync_every_s=0.001)
    synced.clear()
    folder.append("speed")
    assert synced.wait(10.0)
    folder.close()


@pytest.mark.parametrize("code", [errno.EROFS, errno.EACCES, errno.ENOSPC])
def test_a_shelf_that_cannot_be_written_is_named(tmp_path: Path, code: int) -> None:
    class ReadOnly(NoSync):
        def open_append(self, path: Path) -> NoSyncHandle:
            raise OSError(code, os.strerror(code), str(path))

    with pytest.raises(RunFileError, match=os.strerror(code)) as caught:
        new_run(tmp_path, files=ReadOnly())
    assert caught.value.what_to_do
    assert isinstance(caught.value, BenchError)


def test_a_shelf_inside_a_file_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(RunFileError, match="the folder above it"):
        new_run(tmp_path / "file" / "shelf")


def test_a_replacement_that_fails_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "run.json"
    replace_file(QUICK, path, b"old")
    for disk in (
        Trouble(room=2),
        Trouble(sync_error=errno.EIO),
        Trouble(rename_error=errno.EACCES),
    ):
        with pytest.raises(RunFileError, match=r"run\.json"):
            replace_file(disk, path, b"new and longer")
        assert path.read_bytes() == b"old"
    replace_file(QUICK, path, b"new")
    assert [entry.name for entry in tmp_path.iterdir()] == ["run.json"]


def test_an_end_that_fails_leaves_an_interrupted_run_that_goes_on(tmp_path: Path) -> None:
    clock, disk = HandClock(), Trouble()
    folder = run_on(disk, tmp_path, clock)
    disk.rename_error = errno.ENOSPC
    with pytest.raises(RunFileError):
        finish(folder)
    assert read_run(folder.folder).header.state == "running"
    again = reopen(folder.folder, clock, files=QUICK, sync_every_s=None)
    finish(again)
    assert verify(folder.folder).sealed


def test_handles_of_the_tests_are_handles(tmp_path: Path) -> None:
    handle: Handle = TroubleHandle(tmp_path / "x", Trouble())
    assert handle.write(b"ab") == 2
    handle.close()


def test_errors_without_a_number_keep_their_words() -> None:
    assert "odd" in str(file_error(Path("x"), OSError("odd")))


def test_a_file_name_cannot_steer_the_terminal(tmp_path: Path) -> None:
    error = RunFileError(tmp_path / "\x1b[2J", "is bad.")
    assert "\x1b" not in str(error)


def test_a_finished_run_has_the_files_of_the_contract(tmp_path: Path) -> None:
    names = sorted(path.name for path in finished_run(tmp_path).iterdir())
    assert names == [
        "curve.csv",
        "curve.csv-metadata.json",
        "journal.jsonl",
        "run.json",
        "samples.csv",
        "seal.json",
        "verdict.json",
    ]
