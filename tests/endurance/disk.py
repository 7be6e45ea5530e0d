"""A disk in the world that gets full, breaks, dawdles or hangs; a program killed while writing."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from acquire.record.files import Files, Handle
from tests.endurance.world import Killed, World

HANGS_S = 10.0
"""A disk that takes longer than this hangs [s]."""


@dataclass
class Trouble:
    """What is wrong with the disk now."""

    refuses: str = ""
    """Name of the error of every write, or empty."""
    sync_refuses: str = ""
    sync_takes_s: float = 0.0
    write_takes_s: float = 0.0
    short_writes: bool = False
    """A write takes only part of what it is given."""
    kill_in: int = -1
    """So many operations from now the program is killed, in the midst of a write; -1: never."""

    def heal(self) -> None:
        """All is well again."""
        self.refuses = self.sync_refuses = ""
        self.sync_takes_s = self.write_takes_s = 0.0
        self.short_writes = False


@dataclass
class RoughDisk:
    """Passes everything on to `inner`, with trouble."""

    inner: Files
    world: World
    trouble: Trouble = field(default_factory=Trouble)
    handles: set[_RoughHandle] = field(default_factory=set)
    """Those that are open."""
    pump_hung_s: float | None = None
    """Since when the thread that takes the readings hung here."""

    def make_folder(self, path: Path) -> None:
        self._write_turn()
        self.inner.make_folder(path)

    def open_append(self, path: Path) -> Handle:
        self._turn()
        if not path.exists():
            self._refuse(self.trouble.refuses)
        handle = _RoughHandle(self.inner.open_append(path), self)
        self.handles.add(handle)
        return handle

    def program_gone(self) -> None:
        """The system closes what a dead program had open."""
        for handle in list(self.handles):
            handle.close()

    def rename(self, old: Path, new: Path) -> None:
        self._write_turn()
        self.inner.rename(old, new)

    def remove(self, path: Path) -> None:
        self._turn()
        if self.trouble.refuses == "EROFS" and path.exists():
            self._refuse("EROFS")
        self.inner.remove(path)

    def sync_folder(self, path: Path) -> None:
        self.sync_turn()
        self.inner.sync_folder(path)

    # ---- for the handles too ---------------------------------------------------------------

    def _turn(self) -> None:
        """One operation; the program may be killed before it."""
        if self.world.killed:
            raise Killed
        if self.trouble.kill_in >= 0:
            self.trouble.kill_in -= 1
            if self.trouble.kill_in < 0:
                self.world.kill()
                raise Killed

    def _write_turn(self) -> None:
        self._turn()
        self._refuse(self.trouble.refuses)

    def write_turn(self, data: bytes, write: Callable[[bytes], int]) -> int:
        """A write: refused, cut short, or torn by being killed in its midst."""
        trouble = self.trouble
        if trouble.kill_in == 0 and len(data) > 1 and not self.world.killed:
            write(data[: self.world.random.randrange(len(data))])
        self._turn()
        if trouble.write_takes_s > 0.0:
            self._hang(trouble.write_takes_s)
        if trouble.refuses and len(data) > 1 and self.world.random.random() < 0.3:
            return write(data[: self.world.random.randrange(1, len(data))])
        self._refuse(trouble.refuses)
        if trouble.short_writes and len(data) > 1:
            data = data[: self.world.random.randrange(1, len(data))]
        return write(data)

    def sync_turn(self) -> None:
        """A sync: slow, or refused."""
        self._turn()
        if self.trouble.sync_takes_s > 0.0:
            self._hang(self.trouble.sync_takes_s)
        self._refuse(self.trouble.sync_refuses)

    def _hang(self, seconds: float) -> None:
        if seconds > HANGS_S and self.world.current.name == "bench pump":
            self.pump_hung_s = self.pump_hung_s or self.world.now_s
        self.world.sleep_s(seconds)

    @staticmethod
    def _refuse(name: str) -> None:
        if name:
            number = getattr(errno, name)
            raise OSError(number, os.strerror(number))


class _RoughHandle:
    def __init__(self, inner: Handle, disk: RoughDisk) -> None:
        self._inner, self._disk = inner, disk
        self.claim = inner.claim

    def write(self, data: bytes) -> int:
        return self._disk.write_turn(data, self._inner.write)

    def sync(self) -> None:
        self._disk.sync_turn()
        self._inner.sync()

    def truncate(self, size: int) -> None:
        self._disk._write_turn()
        self._inner.truncate(size)

    def close(self) -> None:
        self._disk.handles.discard(self)
        self._inner.close()
