"""A disk that keeps a log, and what it may hold after the plug is pulled at any instant.

The rules are those POSIX gives a program, at their harshest: content is certain only after a sync
of the file, names only after a sync of the folder. What is not certain may be there or not, in
part, cut anywhere, or with sectors of zeros before sectors that were written later. The method is
that of crash-consistency studies (Pillai et al., "All File Systems Are Not Created Equal", OSDI
2014), the log of system calls played back to every instant.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from pathlib import Path

from acquire.record.files import DISK, Handle
from tests.record.runs import QUICK

SECTOR = 512
Event = tuple[object, ...]


@dataclass
class LoggingDisk:
    """Works on the real disk and logs every operation; `mark` logs what a caller was promised."""

    root: Path
    log: list[Event] = field(default_factory=list)

    def mark(self, word: str, *facts: object) -> None:
        """From here on the caller relies on this."""
        self.log.append(("mark", word, *facts))

    def make_folder(self, path: Path) -> None:
        DISK.make_folder(path)
        self.log.append(("make", self._name(path)))

    def open_append(self, path: Path) -> Handle:
        new = not path.exists()
        handle = _LoggingHandle(QUICK.open_append(path), self._name(path), self.log)
        if new:
            self.log.append(("new", self._name(path)))
        self.log.append(("open", self._name(path), id(handle)))
        return handle

    def rename(self, old: Path, new: Path) -> None:
        DISK.rename(old, new)
        self.log.append(("rename", self._name(old), self._name(new)))

    def remove(self, path: Path) -> None:
        if path.exists():
            self.log.append(("remove", self._name(path)))
        DISK.remove(path)

    def sync_folder(self, path: Path) -> None:
        self.log.append(("sync_folder", self._name(path)))

    def _name(self, path: Path) -> str:
        return path.relative_to(self.root).as_posix()


class _LoggingHandle:
    def __init__(self, inner: Handle, name: str, log: list[Event]) -> None:
        self._inner, self._name, self._log = inner, name, log
        self.close, self.claim = inner.close, inner.claim

    def write(self, data: bytes) -> int:
        written = self._inner.write(data)
        self._log.append(("write", id(self), bytes(data[:written])))
        return written

    def sync(self) -> None:
        self._log.append(("sync", id(self)))

    def truncate(self, size: int) -> None:
        self._inner.truncate(size)
        self._log.append(("truncate", id(self), size))


@dataclass
class _Content:
    """One file's bytes: what is certain, and what came since."""

    certain: bytes = b""
    since: list[bytes | int] = field(default_factory=list)

    def now(self) -> bytes:
        content = self.certain
        for change in self.since:
            content = content[:change] if isinstance(change, int) else content + change
        return content

    def sync(self) -> None:
        self.certain, self.since = self.now(), []

    def after_the_cut(self, chance: random.Random) -> bytes:
        """Some of what came since, cut anywhere, perhaps with holes of zeros."""
        kept = self.since[: chance.randint(0, len(self.since))]
        whole = _Content(self.certain, kept).now()
        floor = min([len(self.certain), *(c for c in kept if isinstance(c, int))])
        if len(whole) <= floor:
            return whole
        length = chance.choice([len(whole), chance.randint(floor, len(whole))])
        content = bytearray(whole[:length])
        if chance.random() < 0.5:
            self._holes(content, floor, chance)
        return bytes(content)

    @staticmethod
    def _holes(content: bytearray, floor: int, chance: random.Random) -> None:
        for begin in range(floor - floor % SECTOR, len(content), SECTOR):
            start, end = max(begin, floor), min(begin + SECTOR, len(content))
            if chance.random() < 0.3:
                content[start:end] = bytes(end - start)


class PulledPlug:
    """Plays a log as far as an instant and says what the disk may hold then."""

    def __init__(self, before: dict[str, bytes] | None = None) -> None:
        """`before`: files that were there, for certain, when the log began."""
        self._names = {name: _Content(data) for name, data in (before or {}).items()}
        self._folders: set[str] = set()
        self._uncertain: list[Event] = []
        self._certain = dict(self._names)
        self._open: dict[object, _Content] = {}

    def play(self, event: Event) -> None:
        """One operation."""
        kind, first, *rest = event
        if kind in ("make", "new", "rename", "remove"):
            self._change_name(event)
        elif kind == "open":
            self._open[rest[0]] = self._names[str(first)]
        elif kind == "write":
            data = rest[0]
            assert isinstance(data, bytes)
            self._open[first].since.append(data)
        elif kind == "truncate":
            size = rest[0]
            assert isinstance(size, int)
            self._open[first].since.append(size)
        elif kind == "sync":
            self._open[first].sync()
        elif kind == "sync_folder":
            self._settle(str(first))

    def _change_name(self, event: Event) -> None:
        name = str(event[1])
        if event[0] == "new":
            self._names[name] = content = _Content()
            event = ("new", name, content)
        elif event[0] == "rename":
            self._names[str(event[2])] = self._names.pop(name)
        elif event[0] == "remove":
            self._names.pop(name, None)
        self._uncertain.append(event)

    def _settle(self, folder: str) -> None:
        """The names in one folder are certain now."""
        here = [event for event in self._uncertain if _parent(str(event[1])) == folder]
        self._uncertain = [event for event in self._uncertain if event not in here]
        _apply(here, self._certain, self._folders)

    def put(self, root: Path, chance: random.Random) -> None:
        """Write under `root` one of the states the disk may be in."""
        names, folders = dict(self._certain), set(self._folders)
        uncertain = self._uncertain
        if chance.random() < 0.5:
            kept = uncertain[: chance.randint(0, len(uncertain))]
        else:
            kept = [event for event in uncertain if chance.random() < 0.5]
        _apply(kept, names, folders)
        for folder in sorted(folders):
            (root / folder).mkdir(parents=True, exist_ok=True)
        for name, content in names.items():
            if (root / name).parent.is_dir():
                (root / name).write_bytes(content.after_the_cut(chance))


def _parent(name: str) -> str:
    return Path(name).parent.as_posix()


def _apply(events: list[Event], names: dict[str, _Content], folders: set[str]) -> None:
    for kind, name, *rest in events:
        name = str(name)
        if kind == "make":
            folders.add(name)
        elif kind == "new":
            content = rest[0]
            assert isinstance(content, _Content)
            names[name] = content
        elif kind == "rename" and name in names:
            names[str(rest[0])] = names.pop(name)
        elif kind == "remove":
            names.pop(name, None)
