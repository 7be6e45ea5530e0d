"""Which way the hand at a load must go, and when the voltage stands right."""

from __future__ import annotations

import math

from acquire.sweep.commands import HandsOn

SAY_EVERY_S = 1.0
"""A hand cannot follow words that change more often."""
RIGHT_FOR_S = 0.8
"""The voltage must stand right for so long before the reading begins."""
KEEP = 0.6
"""Outside this share of the band the hand is reminded, while the reading goes on."""
WANDERED = 1.4
"""Outside so many times the allowed band the load must be set again."""


class HandGuide:
    """Says MORE LOAD or LESS LOAD towards a test voltage."""

    def __init__(self, test_volts: float | None, within_volts: float) -> None:
        """Without a test voltage [V] every setting is right."""
        self._test_volts = test_volts
        self._within = within_volts
        self._said_s = -math.inf
        self._right_since_s: float | None = None

    def asked(self, now_s: float) -> None:
        """The hand was told to close the load: it gets a moment before the next word."""
        self._said_s = now_s

    def begin_again(self) -> None:
        """The load is gone, or was set wrong: what stood right before counts no more."""
        self._right_since_s = None

    def stands_right(self, now_s: float, volts: float) -> bool:
        """True once the voltage has been within its band for long enough."""
        if self._test_volts is None:
            return True
        if abs(volts - self._test_volts) > self._within:
            self._right_since_s = None
            return False
        if self._right_since_s is None:
            self._right_since_s = now_s
        return now_s - self._right_since_s >= RIGHT_FOR_S

    def wandered(self, volts: float) -> bool:
        """True where the load must be set again."""
        if self._test_volts is None:
            return False
        return abs(volts - self._test_volts) > WANDERED * self._within

    def towards(self, now_s: float, volts: float) -> list[HandsOn]:
        """While the load is set: which way, and how far still."""
        off = self._off(volts)
        if abs(off) <= self._within:
            return []
        return self._say(now_s, off, "too high" if off > 0 else "too low")

    def keep(self, now_s: float, volts: float) -> list[HandsOn]:
        """While the reading runs: a gentle word before the voltage leaves the band."""
        off = self._off(volts)
        return [] if abs(off) < KEEP * self._within else self._say(now_s, off, "")

    def _off(self, volts: float) -> float:
        return volts - (self._test_volts or volts)

    def _say(self, now_s: float, off_volts: float, how: str) -> list[HandsOn]:
        if now_s - self._said_s < SAY_EVERY_S:
            return []
        self._said_s = now_s
        words = "MORE LOAD" if off_volts > 0 else "LESS LOAD"
        detail = f"{abs(off_volts):.2f} V {how}" if how else f"{abs(off_volts):.2f} V, a little"
        return [HandsOn(words, detail)]
