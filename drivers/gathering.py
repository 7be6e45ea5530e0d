"""How long an instrument that talks without a pause is left to talk before it is heard again.

Waking for a line costs several times what is done with it. So a port that talks quickly is heard
a few lines at a time; one that talks seldom is heard at once.
"""

from __future__ import annotations

HEARD_APART_S = 0.04
"""A port that talks without a pause is heard no oftener, unless its slices are shorter [s]."""
HEARD_BYTES = 1024
"""Nor is more than this left to gather: a quarter of what a serial port has room for."""
NAP_AT_LEAST_S = 0.004
"""But a torrent must leave the rest of the program time to look at what came [s]."""


class Gathering:
    """The times at which one port was heard, in wall seconds."""

    def __init__(self, slice_s: float, pace: float) -> None:
        """A clock that runs `pace` times as fast is heard as much oftener."""
        self._apart_s = min(HEARD_APART_S, slice_s) / pace
        self._least_s = NAP_AT_LEAST_S / pace
        self.restart()

    def restart(self) -> None:
        """Nothing was heard yet."""
        self._heard_s = float("-inf")
        self.nap_s = 0.0
        """What comes after the last is left to gather for so long; 0: it is awaited [s]."""

    def left_s(self, now_s: float) -> float:
        """How much of the nap is left [s]."""
        return self._heard_s + self.nap_s - now_s

    def heard(self, size: int, now_s: float) -> None:
        """So many bytes were taken just now."""
        within_s, self._heard_s = now_s - self._heard_s, now_s
        if not size or (within_s >= self._apart_s and not self.nap_s):
            self.nap_s = 0.0
        else:
            gathers_s = HEARD_BYTES * within_s / size
            self.nap_s = min(max(gathers_s, self._least_s), self._apart_s)
