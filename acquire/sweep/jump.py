"""Noticing that a load was closed or opened: a jump within about a second, not a drift."""

from __future__ import annotations

WITHIN_S = 1.2
"""A hand closes a pile in about a second [s]; what takes longer is warming or a battery filling."""
BACK = 0.5
"""A load that is opened gives back at once this share, at least, of what it had changed."""


class Jump:
    """Watches one channel; `sign` is the way it goes when a load is closed (+1 amps, -1 volts)."""

    def __init__(self, sign: int, least: float) -> None:
        self._sign = sign
        self._least = least
        self._recent: list[tuple[float, float]] = []
        self._before = self._farthest = 0.0

    @property
    def last(self) -> float | None:
        """The newest value, in the unit of the channel that is watched."""
        return self._recent[-1][1] if self._recent else None

    def push(self, t_s: float, value: float) -> tuple[float, float]:
        """Add a value; how far it has gone within about a second: the load's way, and back.

        Both in the unit of the channel that is watched.
        """
        signed = self._sign * value
        self._recent = [(t, v) for t, v in self._recent if t > t_s - WITHIN_S]
        self._recent.append((t_s, value))
        ours = [self._sign * v for _t, v in self._recent]
        self._farthest = max(self._farthest, signed)
        return signed - min(ours), max(ours) - signed

    def mark(self) -> None:
        """The load was closed just now: remember where it came from."""
        ours = [self._sign * v for _t, v in self._recent]
        self._before = min(ours, default=0.0)
        self._farthest = max(ours, default=0.0)

    def closed(self, change: tuple[float, float]) -> bool:
        """True when `change` is a load being closed."""
        return change[0] > self._least

    def opened(self, change: tuple[float, float]) -> bool:
        """True when `change` is a load being opened, after `mark`."""
        return change[1] > max(self._least, BACK * (self._farthest - self._before))
