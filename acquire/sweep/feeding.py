"""A field that hands feed: off while the zero is read, on before anything turns.

At standstill the field takes some amperes of the battery; a zero that is read with it on would be
off by them, and with it every current of the run.
"""

from __future__ import annotations

import math

from acquire.sweep.commands import Command, HandsOn, Remark
from acquire.sweep.phases import PlainPhase

FEED_S = 10.0
"""Hands get so long to switch the feed on; the program cannot see it, and goes on by itself [s]."""


class Feeding(PlainPhase):
    """The zero is read: hands switch the feed on; then it turns."""

    name = "feeding"

    def __init__(self, feed: str) -> None:
        """`feed`: what is switched, as in `ignition`."""
        super().__init__()
        self.feed = feed

    def begin(self, now_s: float) -> list[Command]:
        self.due_s = now_s + FEED_S
        words = HandsOn(f"{self.feed.upper()} ON", f"the zero is read; it turns in {FEED_S:.0f} s")
        return [words, Remark("feed asked for", {"feed": self.feed})]

    def pass_time(self, now_s: float) -> list[Command]:
        self.over, self.due_s = True, math.inf
        return []
