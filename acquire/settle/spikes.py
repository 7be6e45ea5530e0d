"""A spike guard: single wild readings are left out, a real step is let through."""

from __future__ import annotations

MEMORY = 7
"""Readings remembered, the outliers among them included."""
LIMIT = 5.0
"""How many robust standard deviations from the median make a spike."""
MAD_TO_SD = 1.4826
"""Median absolute deviation to standard deviation, normal noise."""
STEP_READINGS = 3
"""So many outliers in a row on the same side are no spikes but a step."""


class SpikeGuard:
    """Causal Hampel filter over the last seven readings (Hampel, 1974; Pearson, 2002)."""

    __slots__ = ("_floor", "_last", "_next", "_run", "_wild", "rejected")

    def __init__(self, resolution: float = 0.0) -> None:
        self._floor = max(resolution, 1e-12)
        self._last: list[float] = []
        self._next = 0
        self._run = 0
        self._wild = 0
        self.rejected = 0

    def restart(self) -> None:
        """Forget the readings so far; the count of rejected ones goes on."""
        self._last.clear()
        self._next = self._run = self._wild = 0

    def passes(self, value: float) -> bool:
        """True when `value` is no spike. Every reading is remembered, spike or not."""
        last = self._last
        if len(last) < MEMORY:
            last.append(value)
            return True
        # Inside the range of seven tame readings nothing is wild: most readings end here.
        if self._wild:
            self._wild -= 1
        elif min(last) <= value <= max(last):
            self._run = 0
            self._remember(value)
            return True
        side = self._side(value)
        self._remember(value)
        if side == 0:
            self._run = 0
            return True
        self._wild = MEMORY
        self._run = self._run + side if self._run * side > 0 else side
        if abs(self._run) >= STEP_READINGS:
            return True
        self.rejected += 1
        return False

    def _remember(self, value: float) -> None:
        self._last[self._next] = value
        self._next = (self._next + 1) % MEMORY

    def _side(self, value: float) -> int:
        """+1 or -1 where `value` is an outlier above or below the others, else 0."""
        ordered = sorted(self._last)
        middle = ordered[MEMORY // 2]
        spread = sorted([abs(x - middle) for x in ordered])[MEMORY // 2] * MAD_TO_SD
        if abs(value - middle) <= LIMIT * max(spread, self._floor):
            return 0
        return 1 if value > middle else -1
