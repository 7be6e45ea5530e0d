"""The few file operations a record needs, behind one seam so that tests can break them.

Nothing else in `acquire.record` writes: power cuts, torn and reordered writes, a full disk and
a failing one are played through `Files`.
"""

from __future__ import annotations

import errno
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol

from acquire.errors import RunFileError
from acquire.record.claim import claim

PART = ".part"
"""Ending of a file that is being written and will take the place of another."""
LONGEST_PATH = 248
"""Of a folder on Windows, where its user has not lifted it; 260 of a file (Microsoft, "Maximum
Path Length Limitation")."""
_REPLACE_TRIES = 20
_REPLACE_WAIT_S = 0.05

_WHAT_TO_DO = {
    errno.ENOSPC: "The disk is full: make room, then go on with `steadyamps resume`.",
    errno.EDQUOT: "Your quota on this disk is used up: make room, then `steadyamps resume`.",
    errno.EROFS: "The disk is read-only: choose another place with --shelf.",
    errno.EACCES: "You may not write there: choose another place with --shelf, or change the "
    "rights of the folder. On Windows, close the program that has the file open.",
    errno.EPERM: "You may not write there: choose another place with --shelf, or change the "
    "rights of the folder.",
    errno.EIO: "The disk does not work properly: keep runs elsewhere (--shelf) and check it.",
    errno.ENOENT: "The folder is not there (any more): was it moved, or a disk pulled out?",
    errno.ENAMETOOLONG: "The path is too long: choose a shorter one with --shelf.",
}


class Handle(Protocol):
    """A file open for adding to its end."""

    def write(self, data: bytes) -> int:
        """Add to the end; says how many bytes were taken."""
        ...

    def sync(self) -> None:
        """Return when everything written is on the disk."""
        ...

    def truncate(self, size: int) -> None:
        """Cut the file to `size` bytes."""
        ...

    def claim(self) -> None:
        """Be the only writer; BlockingIOError when there is another."""
        ...

    def close(self) -> None:
        """Close it."""
        ...


class Files(Protocol):
    """The operations; every one raises `OSError`, translated by its callers here."""

    def make_folder(self, path: Path) -> None:
        """Make one folder; FileExistsError when it is there already."""
        ...

    def open_append(self, path: Path) -> Handle:
        """Open for adding to the end; made when missing; a link is not followed."""
        ...

    def rename(self, old: Path, new: Path) -> None:
        """Put `old` in the place of `new`, whole or not at all."""
        ...

    def remove(self, path: Path) -> None:
        """Delete a file; no error when it is not there."""
        ...

    def sync_folder(self, path: Path) -> None:
        """Return when the names in the folder are on the disk."""
        ...


class _DiskHandle:
    """An open file descriptor."""

    def __init__(self, path: Path) -> None:
        flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND
        for name in ("O_BINARY", "O_NOFOLLOW", "O_CLOEXEC", "O_NOINHERIT"):
            flags |= getattr(os, name, 0)
        self._descriptor = os.open(path, flags, 0o644)

    def write(self, data: bytes) -> int:
        return os.write(self._descriptor, data)

    def sync(self) -> None:
        _flush_to_the_platter(self._descriptor)

    def truncate(self, size: int) -> None:
        os.ftruncate(self._descriptor, size)

    def claim(self) -> None:
        claim(self._descriptor)

    def close(self) -> None:
        os.close(self._descriptor)


def _flush_to_the_platter(descriptor: int) -> None:
    """Flush for certain: on macOS plain fsync stops at the drive's own cache (man 2 fsync)."""
    if sys.platform == "darwin":
        import fcntl

        try:
            fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
        except OSError:
            os.fsync(descriptor)
    else:
        os.fsync(descriptor)


class Disk:
    """The real disk."""

    def make_folder(self, path: Path) -> None:
        path.mkdir(exist_ok=False)

    def open_append(self, path: Path) -> Handle:
        return _DiskHandle(path)

    def rename(self, old: Path, new: Path) -> None:
        for _ in range(_REPLACE_TRIES - 1):
            try:
                old.replace(new)
            except PermissionError:
                # Windows: a virus scanner or a viewer has the file open for a moment.
                if sys.platform != "win32":
                    raise
                time.sleep(_REPLACE_WAIT_S)
            else:
                return
        old.replace(new)

    def remove(self, path: Path) -> None:
        path.unlink(missing_ok=True)

    def sync_folder(self, path: Path) -> None:
        if sys.platform == "win32":
            return  # a folder cannot be opened there; NTFS keeps a journal of names itself
        descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


DISK = Disk()


def file_error(path: Path, error: OSError, doing: str = "written") -> RunFileError:
    """Say which file it was, the system's own words, and what to do."""
    number = errno.ENAMETOOLONG if _too_long(path, error) else error.errno
    words = os.strerror(number) if number else str(error)
    what_to_do = _WHAT_TO_DO.get(number or 0, "Check the disk and the folder's rights.")
    if number == errno.ENOENT and _in_a_folder(path):
        what_to_do = "It is not there: is its name right, or was it moved?"
    return RunFileError(path, f"cannot be {doing}: {words}.", what_to_do=what_to_do)


def _in_a_folder(path: Path) -> bool:
    try:
        return path.parent.is_dir()
    except (OSError, ValueError):
        return False


def _too_long(path: Path, error: OSError) -> bool:
    """Windows says of a path beyond its limit only that it is not there."""
    if sys.platform != "win32" or error.errno not in (errno.ENOENT, errno.EINVAL):
        return False
    return len(str(path.absolute())) >= LONGEST_PATH


@contextmanager
def translated(path: Path, doing: str = "written") -> Iterator[None]:
    """Turn an `OSError` inside into a `RunFileError` that names `path`."""
    try:
        yield
    except OSError as error:
        raise file_error(path, error, doing) from error


def write_all(handle: Handle, data: bytes) -> None:
    """Write all of `data`, however little the disk takes at a time."""
    left = memoryview(data)
    while left:
        left = left[handle.write(bytes(left)) :]


def replace_file(files: Files, path: Path, data: bytes) -> None:
    """Put `data` in the place of `path`: afterwards all of it is there, or the old file is.

    Raises:
        RunFileError: If it cannot be written; the old file is then as it was.
    """
    part = path.with_name(path.name + PART)
    with translated(path):
        files.remove(part)
        _write_synced(files, part, data)
        files.rename(part, path)
        files.sync_folder(path.parent)


def _write_synced(files: Files, path: Path, data: bytes) -> None:
    handle = files.open_append(path)
    try:
        write_all(handle, data)
        handle.sync()
    finally:
        handle.close()
