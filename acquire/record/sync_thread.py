"""Syncs growing files each second beside the writer, so that a slow disk never slows readings."""

from __future__ import annotations

import threading
from collections.abc import Sequence

from acquire.errors import RunFileError
from acquire.record.growing_file import GrowingFile

SYNC_EVERY_S = 1.0
"""A power cut takes no more of the readings than this [s]; a steady point is synced at once."""


class SyncThread:
    """A daemon thread; a refused sync shows at the writer's next call."""

    def __init__(self, files: Sequence[GrowingFile], every_s: float = SYNC_EVERY_S) -> None:
        self._files = tuple(files)
        self._every_s = every_s
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, name="record sync", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        while not self._over.wait(self._every_s):
            for file in self._files:
                try:
                    file.sync_written()
                except RunFileError:
                    return  # the file remembers it and says so at the writer's next call

    def end(self) -> None:
        """No more syncs; does not wait for one that hangs."""
        self._over.set()
