"""How far a sweep is, and how long it may still take: as in `2 of 4 · about 40 s left`."""

from __future__ import annotations

import math
import statistics

ROUNDED_TO_S = 5


class StepPace:
    """Watches how long a speed takes, ramp and resting of a load included."""

    def __init__(self) -> None:
        self._done: int | None = None
        self._since_s = 0.0
        self._took: list[float] = []

    def words(self, done: int, total: int, *, now_s: float, at_least_s: float = 0.0) -> str:
        """`done` speeds of `total` have been left; `at_least_s`: the one at hand takes so long."""
        if done >= total:
            return f"all {total} measured"
        self._see(done, now_s)
        at = f"{done + 1} of {total}"
        if not self._took:
            return at
        each_s = statistics.mean(self._took)
        here_s = max(each_s - (now_s - self._since_s), at_least_s, 0.0)
        return f"{at} · about {_rounded(here_s + each_s * (total - done - 1))} left"

    def _see(self, done: int, now_s: float) -> None:
        if done == self._done:
            return
        if self._done is not None:
            self._took.append((now_s - self._since_s) / max(done - self._done, 1))
        self._done, self._since_s = done, now_s


def _rounded(seconds: float) -> str:
    """Rounded up: nobody is told of no time at all."""
    if seconds >= 90:
        return f"{math.ceil(seconds / 60)} min"
    return f"{max(math.ceil(seconds / ROUNDED_TO_S), 1) * ROUNDED_TO_S} s"
