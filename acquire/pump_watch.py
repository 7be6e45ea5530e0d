"""Notices that nobody looks at the readings any more, and has the rig stopped.

The guard sees only what the pump hands it. Where the pump hangs, in a disk or a network drive
that does not answer, ports and drive go on: the drive hears from its port and turns on unwatched.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

LOOK_S = 0.5
"""Between two looks at the pump [s]."""
HANGS_AFTER_LOOKS = 10
"""Five wall seconds. Looks are counted, not time: a computer that slept is no pump that hangs."""


class PumpWatch:
    """A daemon thread that compares how often the pump has turned; `begin`, and `end` in time."""

    def __init__(self, turns: Callable[[], int], hangs: Callable[[str], object]) -> None:
        """`turns` counts the rounds of the pump; `hangs` is told once, in words."""
        self._turns = turns
        self._hangs = hangs
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, name="pump watch", daemon=True)

    def begin(self) -> None:
        """Start watching."""
        self._thread.start()

    def end(self) -> None:
        """Stop watching; returns at once."""
        self._over.set()

    def _run(self) -> None:
        seen, looks = self._turns(), 0
        while not self._over.wait(LOOK_S):
            turns = self._turns()
            looks = looks + 1 if turns == seen else 0
            seen = turns
            if looks >= HANGS_AFTER_LOOKS:
                self._hangs(
                    f"The readings were not looked at for {LOOK_S * HANGS_AFTER_LOOKS:.0f} s: "
                    "the disk, or what else holds this program up, does not answer."
                )
                return
