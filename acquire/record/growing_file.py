"""A file that only grows, and keeps its order when the disk is full for a while."""

from __future__ import annotations

import threading
from pathlib import Path

from acquire.errors import RunFileError
from acquire.record.files import Files, file_error

MOST_HELD_BACK = 4_000_000
"""Bytes kept in memory while the disk does not take them."""


class GrowingFile:
    """Adds bytes at the end; what the disk refused is kept and goes first the next time.

    After a refused sync nothing more is promised: the system may have forgotten what it could
    not write, so every later call fails too, though it still hands its bytes on.
    """

    def __init__(self, files: Files, path: Path, *, claimed: bool = False) -> None:
        """Open `path`; with `claimed`, as its only writer.

        Raises:
            RunFileError: If it cannot be opened, or another program writes it.
        """
        self.path = path
        try:
            self._handle = files.open_append(path)
            if claimed:
                self._claim()
        except OSError as error:
            raise file_error(path, error) from error
        self._held_back = b""
        self._unsynced = False
        self._closed = False
        self._broken: RunFileError | None = None
        self._syncing = threading.Lock()

    def _claim(self) -> None:
        try:
            self._handle.claim()
        except BlockingIOError as error:
            self._handle.close()
            raise RunFileError(
                self.path,
                "is being written by another program.",
                what_to_do="The run goes on there: wait for its end, or stop it there.",
            ) from error

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
        if self._broken is not None:
            raise self._broken

    @property
    def full(self) -> bool:
        """True when no more can be kept in memory."""
        return len(self._held_back) > MOST_HELD_BACK

    def sync(self) -> None:
        """Return when everything added is on the disk.

        Raises:
            RunFileError: If it is not, or was not once before.
        """
        if self._held_back:
            self.add(b"")
        self.sync_written()

    def sync_written(self) -> None:
        """Sync what the system has taken so far; may be called from a thread of its own.

        Raises:
            RunFileError: If it cannot be synced, or could not once before.
        """
        with self._syncing:
            if self._broken is not None:
                raise self._broken
            if self._closed or not self._unsynced:
                return
            self._unsynced = False  # before the sync: what comes meanwhile counts as unsynced
            try:
                self._handle.sync()
            except OSError as error:
                self._broken = file_error(self.path, error)
                raise self._broken from error

    def cut_to(self, size: int) -> None:
        """Take away what stands after `size` bytes, for certain.

        Raises:
            RunFileError: If it cannot be done.
        """
        try:
            self._handle.truncate(size)
            self._handle.sync()
        except OSError as error:
            raise file_error(self.path, error) from error

    def close(self) -> None:
        """Close without a sync; what was held back is lost.

        Raises:
            RunFileError: If the disk says now that something went wrong.
        """
        with self._syncing:
            if self._closed:
                return
            self._closed = True
            try:
                self._handle.close()
            except OSError as error:
                raise file_error(self.path, error) from error

    def sync_and_close(self) -> RunFileError | None:
        """Sync and close; gives the error instead of raising it, closed nevertheless."""
        failed = None
        try:
            self.sync()
        except RunFileError as error:
            failed = error
        try:
            self.close()
        except RunFileError as error:
            failed = failed or error
        return failed
