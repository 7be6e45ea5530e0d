"""Power cuts, refusals and kills at any instant: no point lost, all readable and resumable."""

from __future__ import annotations

import contextlib
import json
import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.errors import RunFileError
from acquire.record.files import DISK, Handle
from acquire.record.growing_file import GrowingFile
from acquire.record.read_run import read_run
from acquire.record.reopen import reopen
from acquire.record.run_header import RUN_FILE
from drivers.clock import HandClock
from tests.benchmarks.record_crash import summed
from tests.record import crashes
from tests.record.crashes import (
    Fate,
    a_whole_life,
    cut_at,
    fate_of,
    go_on_to_the_end,
    instants,
    logged_life,
)
from tests.record.pulled_plug import LoggingDisk, PulledPlug
from tests.record.runs import QUICK, NoSync, NoSyncHandle
from tests.samples.make import CHECKOUT

INSTANTS = 1000
REFUSALS = 300
KILLS = 40
CUTS_WHILE_REOPENING = 150


@pytest.fixture(scope="module")
def life(tmp_path_factory: pytest.TempPathFactory) -> LoggingDisk:
    """The log of a whole life."""
    return logged_life(tmp_path_factory.mktemp("life"))


def test_at_a_thousand_instants_no_point_is_lost_and_every_run_goes_on(
    life: LoggingDisk, tmp_path: Path
) -> None:
    """1,000 power cuts with torn and reordered writes: lost 0, unreadable 0, all resumable."""
    seen: Counter[str] = Counter()
    for instant, chance in instants(life, 1, INSTANTS):
        fate = fate_of(tmp_path / "disk", cut_at(life, instant, tmp_path / "disk", chance))
        assert fate.sound, fate
        seen[fate.how] += 1
    # The figures, so that a change of the log or of the chance cannot hollow the test out.
    assert sum(seen.values()) == INSTANTS
    assert seen["resumed"] > 450
    assert seen["resumed with a cut end"] > 150
    assert seen["complete"] > 50
    assert seen["never began"] > 20


def test_whatever_the_disk_refuses_no_point_is_lost_and_every_run_goes_on() -> None:
    """ENOSPC and EIO, once or from then on, in part written or not at all."""
    total = summed("operation refused (ENOSPC, EIO)", count=REFUSALS, seed=2)
    assert (total.lost, total.unreadable, total.not_resumable) == (0, 0, 0), total.words
    assert sum(total.fates.values()) == REFUSALS
    assert total.fates["resumed"] > REFUSALS // 3
    assert total.fates["resumed with a cut end"] > 0
    assert total.fates["complete"] > REFUSALS // 20


def test_writers_killed_at_random_instants_lose_nothing() -> None:
    """In a process of its own: a copy of one with threads is not to be had."""
    if sys.platform == "win32":
        pytest.skip("no process that is a copy of this one; the next test kills on Windows too")
    code = (
        "import json; from tests.benchmarks.record_crash import summed;"
        f" total = summed('writer killed', count={KILLS}, seed=3);"
        " print(json.dumps([total.lost, total.unreadable, total.not_resumable, total.fates]))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=CHECKOUT
    )
    lost, unreadable, not_resumable, fates = json.loads(done.stdout)
    assert (lost, unreadable, not_resumable) == (0, 0, 0)
    assert sum(fates.values()) == KILLS


def test_a_cut_while_reopening_leaves_a_run_that_opens_again(
    life: LoggingDisk, tmp_path: Path
) -> None:
    cut = 0
    for instant, chance in instants(life, 2, CUTS_WHILE_REOPENING * 2):
        first, second = tmp_path / "first", tmp_path / "second"
        promised = cut_at(life, instant, first, chance)
        folders = [path for path in first.iterdir() if (path / RUN_FILE).exists()]
        if not folders or read_run(folders[0]).header.state == "complete":
            continue
        cut += 1
        before = {path.relative_to(first).as_posix(): path.read_bytes() for path in files_in(first)}
        disk = LoggingDisk(first)
        go_on_to_the_end(folders[0], disk)
        plug = PulledPlug(before)
        plug.play(("make", folders[0].name))
        plug.play(("make", f"{folders[0].name}/attachments"))
        plug.play(("sync_folder", "."))
        plug.play(("sync_folder", folders[0].name))
        for event in disk.log[: chance.randint(0, len(disk.log))]:
            plug.play(event)
        shutil.rmtree(second, ignore_errors=True)
        second.mkdir()
        plug.put(second, chance)
        promised.words -= {"complete", "noted"}
        fate = fate_of(second, promised)
        assert fate.sound, fate
    assert cut >= CUTS_WHILE_REOPENING


def files_in(root: Path) -> list[Path]:
    """Every file under a folder."""
    return [path for path in root.rglob("*") if path.is_file()]


class ForgetfulDisk(LoggingDisk):
    """Never syncs a file: the harness must notice."""

    def open_append(self, path: Path) -> Handle:
        handle = super().open_append(path)
        return ForgetfulHandle(handle)


class ForgetfulHandle:
    """A handle whose sync does nothing."""

    def __init__(self, inner: Handle) -> None:
        self.write, self.truncate, self.close = inner.write, inner.truncate, inner.close
        self.claim = inner.claim

    def sync(self) -> None:
        """Forgotten."""


def test_the_harness_notices_a_writer_that_forgets_to_sync(tmp_path: Path) -> None:
    root = tmp_path / "root"
    root.mkdir()
    disk = ForgetfulDisk(root)
    a_whole_life(root, disk, disk.mark)
    assert not all(fate.sound for fate in many_cuts(disk, tmp_path / "disk"))


def many_cuts(disk: LoggingDisk, root: Path) -> Iterator[Fate]:
    """Two hundred power cuts."""
    for instant, chance in instants(disk, 3, 200):
        yield fate_of(root, cut_at(disk, instant, root, chance))


def test_the_harness_notices_a_writer_that_drops_what_was_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def add(file: GrowingFile, data: bytes) -> None:
        with contextlib.suppress(OSError):
            file._handle.write(data)

    monkeypatch.setattr(GrowingFile, "add", add)
    monkeypatch.setattr(GrowingFile, "sync", lambda _file: None)
    total = summed("operation refused (ENOSPC, EIO)", count=100, seed=4)
    assert total.lost
    assert total.words


class LateDisk(NoSync):
    """Keeps what is written in the process until the file is closed."""

    def open_append(self, path: Path) -> NoSyncHandle:
        return LateHandle(path)


class LateHandle(NoSyncHandle):
    """Writes when it is closed."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        write, close, kept = self.write, self.close, bytearray()

        def keep(data: bytes) -> int:
            kept.extend(data)
            return len(data)

        def write_at_last() -> None:
            write(bytes(kept))
            close()

        self.write, self.close = keep, write_at_last


def test_the_harness_notices_a_writer_whose_points_die_with_its_process(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a killed process had not handed to the system is gone: here, all since the beginning."""
    promised = crashes.Promised()

    class Killed(Exception):
        pass

    def killed_at_the_second_point(word: str, *facts: object) -> None:
        promised.mark(word, *facts)
        if len(promised.points) == 2:
            raise Killed

    shelf = tmp_path / "shelf"
    shelf.mkdir()
    monkeypatch.setattr(crashes, "_let_go", lambda _folder: contextlib.nullcontext())
    with pytest.raises(Killed):
        a_whole_life(shelf, LateDisk(), killed_at_the_second_point)
    assert fate_of(shelf, promised).lost == 2


WRITER = """
import sys
from pathlib import Path
from acquire.record.curve_table import Measured
from acquire.record.run_folder import RunFolder
from drivers.clock import RealClock
from drivers.readings import Reading
from tests.record.runs import header
clock = RealClock()
folder = RunFolder.create(Path(sys.argv[1]), header(), clock, sync_every_s=0.01)
for step in range(1, 100000):
    for _ in range(5):
        now_s = clock.monotonic_s()
        folder.add_readings([folder.time.reading(Reading("amps", now_s, step / 7.0))])
    folder.append("speed", {"shaft_rpm": step})
    folder.take_point(Measured(step, float(step), amps=step / 7.0))
    print(step, flush=True)
"""


@pytest.mark.parametrize("after_points", [1, 40, 150])
def test_a_killed_writer_loses_no_point(tmp_path: Path, after_points: int) -> None:
    """SIGKILL (TerminateProcess on Windows) in the midst of writing."""
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(tmp_path)], stdout=subprocess.PIPE, text=True
    )
    assert writer.stdout is not None
    printed = [int(writer.stdout.readline()) for _ in range(after_points)]
    writer.kill()
    printed += [int(line) for line in writer.stdout.read().split("\n")[:-1]]
    writer.wait()
    writer.stdout.close()
    (folder,) = tmp_path.iterdir()
    run = read_run(folder)
    steps = [row.step for row in run.curve]
    assert steps[: len(printed)] == printed
    assert len(steps) <= len(printed) + 1
    again = reopen(folder, HandClock(), files=QUICK, sync_every_s=None)
    assert [row.step for row in again.curve] == steps
    again.close()


def test_a_real_full_disk_says_so() -> None:
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("this system has no /dev/full")
    file = GrowingFile(DISK, full)
    with pytest.raises(RunFileError, match="/dev/full: cannot be written: No space left") as caught:
        file.add(b"1")
    assert "make room" in caught.value.what_to_do
    file.close()
