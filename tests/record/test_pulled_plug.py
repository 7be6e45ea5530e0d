"""Power cuts and kills at any instant: no steady point lost, every run readable and resumable."""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.errors import RunFileError
from acquire.record.add_note import add_note
from acquire.record.files import DISK, Files, Handle
from acquire.record.growing_file import GrowingFile
from acquire.record.read_run import read_run
from acquire.record.reopen import reopen
from acquire.record.run_header import RUN_FILE
from acquire.record.verify import verify
from drivers.clock import HandClock
from tests.record.pulled_plug import LoggingDisk, PulledPlug
from tests.record.runs import QUICK, SPEEDS, finish, measure_step, new_run

INSTANTS = 1000
CUTS_WHILE_REOPENING = 150


def a_whole_life(shelf: Path, disk: LoggingDisk) -> Path:
    """Begin, two steps, stop, a note, resume, the third step, end, a note."""
    clock = HandClock()
    folder = new_run(shelf, clock, files=disk)
    disk.mark("begun")
    for step in (1, 2):
        measure_step(folder, clock, step, batches=25)
        disk.mark("point", folder.curve[-1].measured_text)
    finish(folder, state="stopped")
    disk.mark("stopped")
    add_note(folder.folder, "stopped for tea", who="bench", clock=clock, files=disk)
    clock.advance(60.0)
    again = reopen(folder.folder, clock, files=disk, sync_every_s=None)
    measure_step(again, clock, 3, batches=25)
    disk.mark("point", again.curve[-1].measured_text)
    finish(again)
    disk.mark("complete")
    add_note(folder.folder, "done", who="bench", clock=clock, files=disk)
    disk.mark("noted")
    return folder.folder


@pytest.fixture(scope="module")
def life(tmp_path_factory: pytest.TempPathFactory) -> LoggingDisk:
    """The log of a whole life."""
    root = tmp_path_factory.mktemp("life")
    disk = LoggingDisk(root)
    a_whole_life(root, disk)
    return disk


def instants(disk: LoggingDisk, seed: int, count: int) -> Iterator[tuple[int, random.Random]]:
    """Instants by chance, each with its own chance for what the disk kept."""
    for number in range(count):
        chance = random.Random(f"{seed} {number}")
        yield chance.randint(0, len(disk.log)), chance


def cut_at(disk: LoggingDisk, instant: int, root: Path, chance: random.Random) -> dict[str, int]:
    """Put one possible state under `root`; gives what had been promised by then."""
    plug = PulledPlug()
    promised: Counter[str] = Counter()
    for event in disk.log[:instant]:
        if event[0] == "mark":
            promised[str(event[1])] += 1
        else:
            plug.play(event)
    shutil.rmtree(root, ignore_errors=True)
    root.mkdir()
    plug.put(root, chance)
    return promised


def points_promised(disk: LoggingDisk, count: int) -> list[str]:
    """The rows of the first `count` steady points."""
    rows = [str(event[2]) for event in disk.log if event[:2] == ("mark", "point")]
    return rows[:count]


def go_on_to_the_end(folder: Path, files: Files = QUICK) -> None:
    """Resume where it stopped, and end."""
    clock = HandClock()
    clock.advance(3600.0)
    again = reopen(folder, clock, files=files, sync_every_s=None)
    there = {row.step for row in again.curve}
    for step in range(1, len(SPEEDS) + 1):
        if step not in there:
            measure_step(again, clock, step)
    finish(again)


def test_at_a_thousand_instants_no_point_is_lost_and_every_run_goes_on(
    life: LoggingDisk, tmp_path: Path
) -> None:
    """1,000 power cuts with torn and reordered writes: lost 0, unreadable 0, all resumable."""
    seen: Counter[str] = Counter()
    for instant, chance in instants(life, 1, INSTANTS):
        promised = cut_at(life, instant, tmp_path / "disk", chance)
        seen[check_after_the_cut(life, tmp_path / "disk", promised)] += 1
    # The figures, so that a change of the log or of the chance cannot hollow the test out.
    assert sum(seen.values()) == INSTANTS
    assert seen["resumed"] > 450
    assert seen["resumed with a cut end"] > 150
    assert seen["complete"] > 50
    assert seen["never began"] > 20


def check_after_the_cut(life: LoggingDisk, root: Path, promised: dict[str, int]) -> str:
    """One state: readable, nothing promised is missing, and it goes on to a sealed end."""
    folders = [path for path in root.iterdir() if path.is_dir()] if root.is_dir() else []
    if not folders or not (folders[0] / RUN_FILE).exists():
        assert not promised.get("begun")
        return "never began"
    run = read_run(folders[0])
    rows = [row.measured_text for row in run.curve]
    wanted = points_promised(life, promised.get("point", 0))
    assert rows[: len(wanted)] == wanted
    if run.header.state == "complete":
        check_complete(folders[0], promised)
        return "complete"
    assert not promised.get("complete")
    go_on_to_the_end(folders[0])
    after = read_run(folders[0])
    assert [row.measured_text for row in after.curve][: len(rows)] == rows
    assert after.tails == ()
    report = verify(folders[0])
    assert report.sealed, report.problems
    assert report.complete
    return "resumed with a cut end" if run.tails else "resumed"


def check_complete(folder: Path, promised: dict[str, int]) -> None:
    """A complete run is sealed; only an interrupted note may lie beside it."""
    problems = verify(folder).problems
    assert all(one.wrong == "added" for one in problems), problems
    assert not (promised.get("noted") and problems)


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
        check_after_the_cut(life, second, {**promised, "complete": 0, "noted": 0})
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
    a_whole_life(root, disk)
    with pytest.raises((AssertionError, RunFileError)):
        check_many(disk, tmp_path / "disk")


def check_many(disk: LoggingDisk, root: Path) -> None:
    """Two hundred power cuts."""
    for instant, chance in instants(disk, 3, 200):
        promised = cut_at(disk, instant, root, chance)
        check_after_the_cut(disk, root, promised)


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
