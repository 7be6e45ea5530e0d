"""A slow meter read often says the same thing many times: each value counts once."""

from __future__ import annotations

from collections import deque

REMEMBERED = 9
CHANGES_AT_LEAST = 5
RUN_AT_LEAST = 3.0
"""A meter is slow when its values stay for so many readings."""
JUMP_STEPS = 1.5
"""And change by more than the display's least step: a quiet signal repeats itself honestly."""
REGULAR = 1.6
"""And change at regular times: longest stay over shortest, the two extremes left out."""


class UpdateWatch:
    """Finds the update period of a meter that is slower than it is read."""

    __slots__ = (
        "_changed_s",
        "_counted_s",
        "_jumps",
        "_last",
        "_run",
        "_runs",
        "_stays",
        "period_s",
    )

    def __init__(self) -> None:
        self.period_s = 0.0
        """Update period [s]; 0 for a meter that keeps up."""
        self._last: float | None = None
        self._changed_s = self._counted_s = 0.0
        self._run = 0
        self._stays: deque[float] = deque(maxlen=REMEMBERED)
        self._runs: deque[int] = deque(maxlen=REMEMBERED)
        self._jumps: deque[float] = deque(maxlen=REMEMBERED)

    def counts(self, t_s: float, value: float, resolution: float) -> bool:
        """True when this reading is a value of its own."""
        if value == self._last:
            self._run += 1
            if self.period_s and t_s - self._counted_s < 0.9 * self.period_s:
                return False
        else:
            if self._last is not None and (self._run > 1 or self.period_s):
                self._change(t_s, abs(value - self._last), resolution)
            self._last, self._changed_s, self._run = value, t_s, 1
        self._counted_s = t_s
        return True

    def _change(self, t_s: float, jump: float, resolution: float) -> None:
        self._stays.append(t_s - self._changed_s)
        self._runs.append(self._run)
        self._jumps.append(jump)
        self.period_s = 0.0
        if len(self._stays) < CHANGES_AT_LEAST:
            return
        stays, runs, jumps = sorted(self._stays), sorted(self._runs), sorted(self._jumps)
        middle = len(stays) // 2
        regular = stays[-2] <= REGULAR * stays[1]
        if regular and runs[middle] >= RUN_AT_LEAST and jumps[middle] > JUMP_STEPS * resolution:
            self.period_s = stays[middle]
