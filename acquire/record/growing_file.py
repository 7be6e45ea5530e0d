"""A file that only grows, and keeps its order when the disk is full for a while."""

from __future__ import annotations

from pathlib import Path

from acquire.errors import RunFileError
from acquire.record.files import Files, file_error

MOST_HELD_BACK = 4_000_000
"""Bytes kept in memory while the disk does not take them."""


class GrowingFile:
    """Adds bytes at the end; what the disk refused is kept and goes first the next time.

    After a refused sync nothing more is promised: the system may have forgotten what it could
    not write, so every later sync of this file fails too.
    """

    def __init__(self, files: Files, path: Path) -> None:
        self.path = path
        try:
            self._handle = files.open_append(path)
        except OSError as error:
            raise file_error(path, error) from error
        self._held_back = b""
        self._unsynced = False
        self._broken: RunFileError | None = None

    def add(self, data: bytes) -> None:
        """Hand `data` to the system at once.

        Raises:
            RunFileError: If the disk refuses it; the order of bytes is kept for the next time.
        """
        data = self._held_back + data if self._held_back else data
        self._unsynced = True
        try:
            written = self._handle.write(data)
            while written < len(data):
                data = data[written:]
                written = self._handle.write(data)
        except OSError as error:
            self._held_back = data
            raise file_error(self.path, error) from error
        self._held_back = b""

    @property
    def full(self) -> bool:
        """True when no more can be kept in memory."""
        return len(self._held_back) > MOST_HELD_BACK

    def sync(self) -> None:
        """Return when everything added is on the disk.

        Raises:
            RunFileError: If it is not, or was not once before.
        """
        if self._broken is not None:
            raise self._broken
        if self._held_back:
            self.add(b"")
        if not self._unsynced:
            return
        self._unsynced = False  # before the sync: what is added meanwhile counts as unsynced
        try:
            self._handle.sync()
        except OSError as error:
            self._broken = file_error(self.path, error)
            raise self._broken from error

    def close(self) -> None:
        """Close without a sync; what was held back is lost."""
        try:
            self._handle.close()
        except OSError as error:
            raise file_error(self.path, error) from error
