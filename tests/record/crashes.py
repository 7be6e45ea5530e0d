"""A whole life of a record, broken off at any instant in three ways, and what became of it.

A writer is killed (SIGKILL); the plug is pulled, with writes torn and reordered within what a file
system may do (`pulled_plug`); or the disk refuses an operation, with ENOSPC or EIO, once or from
then on. After each, on a sound disk: no steady point that was promised may be missing, the folder
must be readable, and the run must go on to a sealed end.
"""

from __future__ import annotations

import contextlib
import errno
import os
import random
import shutil
import signal
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from acquire.errors import RunFileError
from acquire.record.add_note import add_note
from acquire.record.files import Files, Handle
from acquire.record.read_run import read_run
from acquire.record.reopen import reopen
from acquire.record.run_folder import RunFolder
from acquire.record.run_header import RUN_FILE
from acquire.record.verify import verify
from drivers.clock import HandClock
from profiles.errors import BenchError
from tests.record.pulled_plug import LoggingDisk, PulledPlug
from tests.record.runs import QUICK, SPEEDS, finish, measure_step, new_run

Mark = Callable[..., None]


def a_whole_life(shelf: Path, disk: Files, mark: Mark, *, batches: int = 25) -> Path:
    """Begin, two steps, stop, a note, resume, the third step, end, a note.

    `mark` is told what the writer was promised: begun, each point, stopped, complete, noted.
    """
    clock = HandClock()
    folder = new_run(shelf, clock, files=disk)
    with _let_go(folder):
        mark("begun")
        for step in (1, 2):
            measure_step(folder, clock, step, batches=batches)
            mark("point", folder.curve[-1].measured_text)
        finish(folder, state="stopped")
    mark("stopped")
    add_note(folder.folder, "stopped for tea", who="bench", clock=clock, files=disk)
    clock.advance(60.0)
    again = reopen(folder.folder, clock, files=disk, sync_every_s=None)
    with _let_go(again):
        measure_step(again, clock, 3, batches=batches)
        mark("point", again.curve[-1].measured_text)
        finish(again)
    mark("complete")
    add_note(folder.folder, "done", who="bench", clock=clock, files=disk)
    mark("noted")
    return folder.folder


@contextlib.contextmanager
def _let_go(folder: RunFolder) -> Iterator[None]:
    try:
        yield
    finally:
        with contextlib.suppress(RunFileError):  # the disk may refuse this too
            folder.close()


@dataclass
class Promised:
    """What had been promised by the instant at which all broke off."""

    points: list[str] = field(default_factory=list)
    words: set[str] = field(default_factory=set)

    def mark(self, word: str, *facts: object) -> None:
        """One promise."""
        self.words.add(word)
        if word == "point":
            self.points.append(str(facts[0]))


@dataclass(frozen=True)
class Fate:
    """What became of one record."""

    how: str
    lost: int = 0
    """Steady points promised, and not there."""
    unreadable: bool = False
    not_resumable: str = ""
    """Why it did not go on to a sealed end."""

    @property
    def sound(self) -> bool:
        """Nothing is lost, and it went on."""
        return not (self.lost or self.unreadable or self.not_resumable)


def fate_of(shelf: Path, promised: Promised) -> Fate:
    """Read what the disk has, and go on with it to its end on a sound disk."""
    folders = [path for path in shelf.iterdir() if path.is_dir()] if shelf.is_dir() else []
    if not folders or not (folders[0] / RUN_FILE).exists():
        return Fate("never began", len(promised.points), unreadable="begun" in promised.words)
    folder = folders[0]
    try:
        run = read_run(folder)
    except BenchError:
        return Fate("unreadable", len(promised.points), unreadable=True)
    rows = [row.measured_text for row in run.curve]
    lost = sum(1 for n, text in enumerate(promised.points) if rows[n : n + 1] != [text])
    if run.header.state == "complete":
        return Fate("complete", lost, not_resumable=_wrong_with_complete(folder, promised))
    wrong = "complete was promised" if "complete" in promised.words else _wrong_after(folder, rows)
    return Fate("resumed with a cut end" if run.tails else "resumed", lost, not_resumable=wrong)


def _wrong_with_complete(folder: Path, promised: Promised) -> str:
    """A complete run is sealed; only an interrupted note may lie beside it."""
    problems = verify(folder).problems
    if "noted" in promised.words and problems:
        return f"noted, and {problems[0]}"
    return next((str(one) for one in problems if one.wrong != "added"), "")


def _wrong_after(folder: Path, rows: list[str]) -> str:
    try:
        go_on_to_the_end(folder)
        after, report = read_run(folder), verify(folder)
    except BenchError as error:
        return str(error)
    if [row.measured_text for row in after.curve][: len(rows)] != rows or after.tails:
        return "other points than before it went on"
    if not (report.sealed and report.complete):
        return str(report.problems[0]) if report.problems else "not complete"
    return ""


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


# ---- the plug is pulled ----------------------------------------------------------------------


def logged_life(root: Path) -> LoggingDisk:
    """The log of a whole life."""
    disk = LoggingDisk(root)
    a_whole_life(root, disk, disk.mark)
    return disk


def cut_at(disk: LoggingDisk, instant: int, root: Path, chance: random.Random) -> Promised:
    """Put one possible state of the disk under `root`; gives what had been promised by then."""
    plug, promised = PulledPlug(), Promised()
    for event in disk.log[:instant]:
        if event[0] == "mark":
            promised.mark(str(event[1]), *event[2:])
        else:
            plug.play(event)
    shutil.rmtree(root, ignore_errors=True)
    root.mkdir()
    plug.put(root, chance)
    return promised


def instants(disk: LoggingDisk, seed: int, count: int) -> Iterator[tuple[int, random.Random]]:
    """Instants by chance, each with its own chance for what the disk kept."""
    for number in range(count):
        chance = random.Random(f"{seed} {number}")
        yield chance.randint(0, len(disk.log)), chance


def pulled_plugs(root: Path, *, count: int, seed: int) -> Iterator[Fate]:
    """Power cuts at random instants of one life."""
    life = root / "life"
    life.mkdir()
    disk = logged_life(life)
    for instant, chance in instants(disk, seed, count):
        promised = cut_at(disk, instant, root / "disk", chance)
        yield fate_of(root / "disk", promised)


# ---- the disk refuses ------------------------------------------------------------------------


class RefusingDisk:
    """Counts its operations and refuses one of them, or all from that one on."""

    def __init__(
        self, at: int, *, code: int = errno.ENOSPC, lasting: bool = False, seed: str = ""
    ) -> None:
        """`at`: the number of the operation, the first is 1; 0 refuses none."""
        self.operations = 0
        self.at, self.code, self.lasting = at, code, lasting
        self.chance = random.Random(seed)

    def tick(self) -> None:
        """One operation begins."""
        self.operations += 1
        if self.operations == self.at or (self.lasting and 0 < self.at < self.operations):
            raise OSError(self.code, os.strerror(self.code))

    def make_folder(self, path: Path) -> None:
        self.tick()
        QUICK.make_folder(path)

    def open_append(self, path: Path) -> Handle:
        self.tick()
        return _RefusingHandle(QUICK.open_append(path), self)

    def rename(self, old: Path, new: Path) -> None:
        self.tick()
        QUICK.rename(old, new)

    def remove(self, path: Path) -> None:
        self.tick()
        QUICK.remove(path)

    def sync_folder(self, path: Path) -> None:
        self.tick()


class _RefusingHandle:
    """A refused write may have taken a part, as a disk that fills up does."""

    def __init__(self, inner: Handle, disk: RefusingDisk) -> None:
        self._inner, self._disk = inner, disk
        self.close, self.claim = inner.close, inner.claim

    def write(self, data: bytes) -> int:
        try:
            self._disk.tick()
        except OSError:
            taken = self._disk.chance.randint(0, len(data))
            if taken and self._disk.chance.random() < 0.7:
                return self._inner.write(data[:taken])
            raise
        return self._inner.write(data)

    def sync(self) -> None:
        self._disk.tick()

    def truncate(self, size: int) -> None:
        self._disk.tick()
        self._inner.truncate(size)


def refusals(root: Path, *, count: int, seed: int) -> Iterator[Fate]:
    """Refused operations at random instants, each in a life of its own."""
    shelf = root / "refusing"
    shelf.mkdir()
    whole = RefusingDisk(0)
    a_whole_life(shelf, whole, Promised().mark, batches=5)
    for number in range(count):
        chance = random.Random(f"{seed} {number}")
        shutil.rmtree(shelf)
        shelf.mkdir()
        promised = Promised()
        disk = RefusingDisk(
            chance.randint(1, whole.operations),
            code=chance.choice([errno.ENOSPC, errno.EIO]),
            lasting=chance.random() < 0.5,
            seed=f"{seed} {number}",
        )
        with contextlib.suppress(RunFileError):  # any other error is a defect
            a_whole_life(shelf, disk, promised.mark, batches=5)
        yield fate_of(shelf, promised)


# ---- the writer is killed --------------------------------------------------------------------


def kills(root: Path, *, count: int, seed: int) -> Iterator[Fate]:
    """Real processes, ended by SIGKILL at random instants; POSIX only, from one thread only."""
    shelf = root / "killed"
    first = root / "first"  # in this process, so that all is imported before it is copied
    first.mkdir()
    a_whole_life(first, QUICK, Promised().mark)
    lasts_s = min(_timed_life(shelf) for _ in range(4))
    chance = random.Random(seed)
    for _ in range(count):
        shutil.rmtree(shelf)
        shelf.mkdir()
        promised = _killed(shelf, after_s=chance.uniform(0.0, 1.1 * lasts_s))
        yield fate_of(shelf, promised)


def _timed_life(shelf: Path) -> float:
    """How long a writer takes that nobody kills, in a process of its own too [s]."""
    shutil.rmtree(shelf, ignore_errors=True)
    shelf.mkdir()
    began_s = time.monotonic()
    child = os.fork()
    if child == 0:
        try:
            a_whole_life(shelf, QUICK, Promised().mark)
        finally:
            os._exit(0)
    os.waitpid(child, 0)
    return time.monotonic() - began_s


def _killed(shelf: Path, *, after_s: float) -> Promised:
    """A writer in a process of its own; its promises come through a pipe before the kill counts."""
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read_end)
        _write_until_killed(shelf, write_end)
    os.close(write_end)
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    promised = Promised()
    with os.fdopen(read_end, encoding="utf-8") as pipe:
        for line in pipe.read().split("\n")[:-1]:
            word, _, fact = line.partition("|")
            promised.mark(word, *([fact] if fact else []))
    return promised


def _write_until_killed(shelf: Path, write_end: int) -> None:
    """The child: a whole life, then it waits for its end."""

    def mark(word: str, *facts: object) -> None:
        os.write(write_end, f"{word}|{'|'.join(map(str, facts))}\n".encode())

    try:
        a_whole_life(shelf, QUICK, mark)
        signal.pause()
    finally:
        os._exit(1)
