"""Bursts of low readings: a brush that lifts, a loose terminal. Seen, set aside, and told.

Such a burst is real current lost, no noise: averaged in, it gives a low value that looks clean.
So the readings of a burst are kept out of the value, the channel is marked unsteady, and the loss
widens the uncertainty.
"""

from __future__ import annotations

import itertools
import math
from collections import deque
from collections.abc import Sequence

from acquire.settle.blocks import Block

DEEP_SHARE = 0.02
"""A burst is at least so far below the level before it, as a share of it."""
DEEP_SDS = 4.0
"""And so many standard deviations of a single reading."""
DEEP_STEPS = 1.6
"""And so many display steps."""
LONGEST_S = 6.0
"""What stays low longer is a new level, no burst."""
LONG_S = 0.15
LONG_READINGS = 5
"""One burst as long as this, of so many readings, is enough to call the channel unsteady."""
VERY_LONG_S = 0.8
"""And so is one as long as this, of however few readings."""
REMEMBERED_S = 30.0
"""A burst that is older than this counts no more [s]."""
QUIET_BLOCKS = 3
"""The level must have been quiet over so many blocks before a burst can begin."""


class DipWatch:
    """Watches one channel for bursts of low readings that come back up."""

    __slots__ = (
        "_began_s",
        "_count",
        "_level",
        "_long",
        "_low_sum",
        "_recent",
        "ceiling",
        "gate",
        "lost",
        "open",
        "spikes_up",
    )

    def __init__(self) -> None:
        self.gate = -math.inf
        """Readings below it may belong to a burst."""
        self.ceiling = math.inf
        """Readings above it are spikes upwards."""
        self.spikes_up = 0
        self.open = False
        self.lost = 0.0
        """Lost by all bursts so far, in the channel's unit of measure times seconds."""
        self._level = 0.0
        self._began_s = 0.0
        self._count = 0
        self._low_sum = 0.0
        self._recent: deque[float] = deque()
        self._long = False

    def sets_aside(self, t_s: float, value: float) -> bool:
        """True when `value`, which is below the gate, is kept out for now."""
        if not self.open:
            self.open = True
            self._began_s, self._count, self._low_sum = t_s, 0, 0.0
        elif t_s - self._began_s > LONGEST_S:
            self.open = False
            self.gate = -math.inf
            return False
        self._count += 1
        self._low_sum += value
        return True

    def comes_back(self, t_s: float, interval_s: float) -> int:
        """A reading is above the gate again; the number of readings that were set aside."""
        self.open = False
        count = self._count
        if count >= _least_count(interval_s):
            lasted_s = t_s - self._began_s
            self._recent.append(t_s)
            self._long = self._long or (lasted_s >= LONG_S and count >= LONG_READINGS)
            self._long = self._long or lasted_s >= VERY_LONG_S
            self.lost += (self._level - self._low_sum / count) * lasted_s
        return count

    def follow(self, blocks: Sequence[Block], resolution: float) -> None:
        """Set the gate from the newest blocks; called as each block ends."""
        if self.open:
            return
        recent = [b for b in list(blocks)[-4 * QUIET_BLOCKS :] if b.count]
        self.gate, self.ceiling = -math.inf, math.inf
        if len(recent) < QUIET_BLOCKS:
            return
        means = [b.mean for b in recent[-QUIET_BLOCKS:]]
        deep = max(
            DEEP_SHARE * abs(means[-1]), DEEP_SDS * _reading_sd(recent), DEEP_STEPS * resolution
        )
        if max(means) - min(means) <= deep:
            self._level = means[-1]
            self.gate, self.ceiling = means[-1] - deep, means[-1] + deep

    def unsteady(self, t_s: float) -> bool:
        """True after one long burst, or several more short ones than there were spikes upwards."""
        while self._recent and t_s - self._recent[0] > REMEMBERED_S:
            self._recent.popleft()
        return self._long or len(self._recent) >= 2 + self.spikes_up


def _least_count(interval_s: float) -> int:
    """Readings that make a burst: one of a slow instrument, three of a fast one."""
    if interval_s > 0.06:
        return 1
    return 2 if interval_s > 0.01 else 3


def _reading_sd(blocks: Sequence[Block]) -> float:
    """Standard deviation of a single reading, from within the blocks or from block to block."""
    within = sorted(b.sd for b in blocks if b.count > 1)
    if within:
        return within[len(within) // 2]
    steps = sorted(abs(b.mean - a.mean) for a, b in itertools.pairwise(blocks))
    return 1.05 * steps[len(steps) // 2] if steps else 0.0
