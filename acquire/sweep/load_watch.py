"""Whether a load that only hands move is closed: by jumps of voltage and current."""

from __future__ import annotations

from typing import Literal

from acquire.sweep.intake import AMPS, VOLTS, Value
from acquire.sweep.jump import Jump

LOAD_DROPS_VOLTS = 0.007
"""A pile that is closed drops the voltage at once by more than this share of the test voltage,"""
LOAD_TAKES_AMPS, LOAD_TAKES = 4.0, 0.08
"""or takes at once so many amps, or this share of what the unit should give."""

Moved = Literal["closed", "opened"]


class LoadWatch:
    """Notices that the load was closed, and that it was opened again."""

    def __init__(self, test_volts: float | None, expected_amps: float) -> None:
        """`expected_amps`: what the unit should give at this speed; 0 where that is unknown.

        Where no test voltage is known the drop is taken of the first voltage that is read.
        """
        self.last_volts: float | None = None
        self.closed_s: float | None = None
        """When it was noticed on [s]; None while it is off."""
        takes = max(LOAD_TAKES_AMPS, LOAD_TAKES * expected_amps)
        self._jumps = {AMPS: Jump(+1, takes)}
        if test_volts is not None:
            self._jumps[VOLTS] = _drop(test_volts)

    def see(self, value: Value, *, may_close: bool, may_open: bool) -> Moved | None:
        """Take a value of any channel; what the load was seen to do, as far as it may just now."""
        if value.channel == VOLTS:
            self.last_volts = value.value
            self._jumps.setdefault(VOLTS, _drop(value.value))
        jump = self._jumps.get(value.channel)
        if jump is None:
            return None
        change = jump.push(value.t_s, value.value)
        if self.closed_s is None:
            return self._closes(value.t_s) if may_close and jump.closed(change) else None
        if may_open and jump.opened(change):
            self.closed_s = None
            return "opened"
        return None

    def take_for_closed(self, t_s: float) -> None:
        """It counts as closed since then [s], whatever was seen."""
        for one in self._jumps.values():
            one.mark()
        self.closed_s = t_s

    def _closes(self, t_s: float) -> Moved:
        self.take_for_closed(t_s)
        return "closed"


def _drop(volts: float) -> Jump:
    return Jump(-1, LOAD_DROPS_VOLTS * volts)
