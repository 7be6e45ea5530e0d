"""Readings gathered into blocks of equal time: constant work per reading, whatever the rate."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

BLOCK_S = 0.5
"""Length of a block [s]."""
KEPT = 640
"""Blocks kept (320 s): four times the longest window."""


@dataclass(frozen=True, slots=True)
class Block:
    """One half second of one channel."""

    number: int
    """0 for the block that begins at the restart."""
    count: int
    """Readings in it; 0 is a gap."""
    mean: float
    """Mean of the readings (0 in a gap)."""
    sd: float
    """Standard deviation of the readings within the block (0 with fewer than two)."""


class RunningMean:
    """Mean and standard deviation by Welford's recurrence (Technometrics 4, 1962, 419-420)."""

    __slots__ = ("_squares", "count", "mean")

    def __init__(self) -> None:
        self.count = 0
        self.mean = 0.0
        self._squares = 0.0

    def add(self, value: float) -> None:
        """Take one more value in."""
        self.count += 1
        off = value - self.mean
        self.mean += off / self.count
        self._squares += off * (value - self.mean)

    @property
    def sd(self) -> float:
        """Sample standard deviation in the values' unit of measure; 0 with fewer than two."""
        return math.sqrt(self._squares / (self.count - 1)) if self.count > 1 else 0.0


class BlockSeries:
    """The blocks of one channel since `began_s`, by the readings' own times."""

    __slots__ = ("_filling", "began_s", "blocks", "closed")

    def __init__(self, began_s: float) -> None:
        self.began_s = began_s
        self.blocks: deque[Block] = deque(maxlen=KEPT)
        self.closed = 0
        self._filling = RunningMean()

    def restart(self, began_s: float) -> None:
        """Forget everything; the first block begins at `began_s`."""
        self.began_s = began_s
        self.blocks.clear()
        self.closed = 0
        self._filling = RunningMean()

    def add(self, value: float) -> None:
        """Take a reading into the block that is filling."""
        self._filling.add(value)

    def close(self) -> Block:
        """End the block that is filling, empty or not, and begin the next."""
        full = self._filling
        block = Block(self.closed, full.count, full.mean, full.sd)
        self.blocks.append(block)
        self.closed += 1
        self._filling = RunningMean()
        return block

    def end_s(self) -> float:
        """Time at which the block that is filling ends [s]."""
        return self.began_s + (self.closed + 1) * BLOCK_S
