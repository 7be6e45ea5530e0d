"""What the shelf knows that matters now: earlier runs of this serial, a run that was interrupted.

Read in the background; a page shows what is known so far.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

from acquire.screens.choices import Choices
from acquire.screens.curve_facts import Measured
from acquire.screens.result_facts import measured_of_folder
from acquire.screens.shelf_glance import Glance, earlier_of, glances, to_go_on
from profiles.errors import BenchError


class Memory:
    """Runs on the shelf, newest first, and what follows for the choices at hand."""

    def __init__(self, shelf: Path, choices: Callable[[], Choices]) -> None:
        self.shelf = shelf
        self.runs: list[Glance] = []
        self.read = False
        """True once the shelf has been read."""
        self.earlier: Glance | None = None
        self.earlier_points: list[Measured] = []
        self._choices = choices
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None

    def refresh(self) -> None:
        """Read the shelf again, in the background."""
        self._thread = threading.Thread(target=self._read, name="shelf", daemon=True)
        self._thread.start()

    def wait(self, timeout_s: float = 30.0) -> None:
        """Wait for the reading begun last."""
        if self._thread is not None:
            self._thread.join(timeout_s)

    def look_for_earlier(self) -> None:
        """The serial or the rig changed: look for an earlier run of it, in the background."""
        self._thread = threading.Thread(target=self._find_earlier, name="earlier run", daemon=True)
        self._thread.start()

    def _read(self) -> None:
        runs = glances(self.shelf)
        with self._lock:
            self.runs, self.read = runs, True
        self._find_earlier()

    def _find_earlier(self) -> None:
        choices = self._choices()
        order = choices.order()
        with self._lock:
            runs = list(self.runs)
        found = None
        if order is not None and choices.going_on is None:
            found = earlier_of(runs, choices.serial, simulated=order.simulated)
        points = _points(found)
        with self._lock:
            self.earlier = found if points else None
            self.earlier_points = points

    @property
    def earlier_words(self) -> str:
        """As in `Earlier run of A-17: 2026-11-20, before, pass; drawn beside this one.`"""
        one = self.earlier
        if one is None:
            return ""
        parts = [one.day, one.header.stage, one.outcome]
        said = ", ".join(part for part in parts if part)
        return f"Earlier run of {one.header.serial}: {said}; drawn beside this one."

    @property
    def interrupted_folder(self) -> Path | None:
        """The newest run, where it was interrupted."""
        one = to_go_on(self.runs)
        return one.folder if one is not None else None

    @property
    def interrupted_words(self) -> str:
        """As in `A-17 of 2026-11-25 was stopped before its end.`"""
        one = to_go_on(self.runs)
        if one is None:
            return ""
        return f"The run of {one.header.title[:28]} ({one.day}) did not come to its end."


def _points(one: Glance | None) -> list[Measured]:
    if one is None:
        return []
    try:
        return measured_of_folder(one.folder)
    except BenchError:
        return []
