"""Which way a value goes where nothing is being held: while the drive turns, warms up or stops.

Plain differences for the eye; what counts as still is told by the test of the hold alone.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

from acquire.plain_sum import plain_sum
from drivers.readings import Reading

WINDOW_S = 3.0
SLOW_WINDOW_S = 20.0
"""Temperatures follow slowly: their trend goes on from one speed to the next [s]."""
READINGS_AT_LEAST = 6
"""However far apart they are: an instrument, or a rig in software, may be slow or quick."""
FILLED = 0.6
"""Share of the window that must be seen before anything is said."""


class Trends:
    """Remembers the last seconds of every channel."""

    def __init__(self) -> None:
        self._seen: dict[str, deque[tuple[float, float]]] = {}

    def see(self, latest: Iterable[Reading]) -> None:
        """Take the newest readings; one that was seen before is not taken again."""
        for reading in latest:
            if not reading.usable or reading.value is None:
                self._seen.pop(reading.channel, None)
                continue
            seen = self._seen.setdefault(reading.channel, deque())
            if not seen or reading.t_s > seen[-1][0]:
                seen.append((reading.t_s, reading.value))
            began_s = reading.t_s - window_s(reading.channel)
            while len(seen) > READINGS_AT_LEAST and seen[0][0] < began_s:
                seen.popleft()

    def of(self, channel: str, tolerance: float) -> tuple[str, str]:
        """Sign and word, as in `^ rising`; empty while too little is seen.

        `tolerance`: what counts as no change, in the channel's unit of measure.
        """
        seen = self._seen.get(channel, deque())
        if len(seen) < READINGS_AT_LEAST:
            return "", ""
        began_s, ended_s = seen[0][0], seen[-1][0]
        if ended_s - began_s < FILLED * window_s(channel):
            return "", ""
        middle_s = (began_s + ended_s) / 2
        change = _mean(v for t, v in seen if t > middle_s) - _mean(
            v for t, v in seen if t <= middle_s
        )
        if abs(change) <= tolerance:
            return ".", "level"
        return ("^", "rising") if change > 0.0 else ("v", "falling")


def window_s(channel: str) -> float:
    """Over how long the trend of a channel is looked at [s]."""
    return SLOW_WINDOW_S if channel.endswith("_c") else WINDOW_S


def _mean(values: Iterable[float]) -> float:
    kept = list(values)
    return plain_sum(kept) / len(kept)
