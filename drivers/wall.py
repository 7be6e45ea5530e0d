"""Wall time for time-outs: an instrument's patience does not scale with a simulated rig's pace."""

from __future__ import annotations

import threading
from typing import Protocol

from drivers.clock import Clock, steady_s


class Wall(Protocol):
    """The time that time-outs and back-offs are counted in; tests move it by hand."""

    def now_s(self) -> float:
        """Seconds since an arbitrary start; never goes back [s]."""
        ...

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Wait up to `seconds`, or until `event` is set; True when it is set."""
        ...


class RealWall:
    """The computer's steady clock."""

    def now_s(self) -> float:
        return steady_s()

    def wait(self, event: threading.Event, seconds: float) -> bool:
        return event.wait(max(seconds, 0.0))


def pace_of(clock: Clock) -> float:
    """How many seconds of `clock` pass in one wall second: 1, but for a simulated rig."""
    pace = getattr(clock, "pace", 1.0)
    return float(pace) if isinstance(pace, int | float) and pace > 0 else 1.0
