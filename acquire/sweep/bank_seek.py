"""Which setting of a switched bank brings the test voltage: sought by the currents, in few steps.

A battery makes the voltage after a switching a slow witness: it creeps for a minute. The currents
tell at once. What the unit gives, less what the battery takes at the test voltage, is what the bank
must take; a unit that still regulates could give more, and then more is asked of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

BATTERY_SHARE = 0.05
"""Guess for what a battery takes of the unit's current at the test voltage, before the first step
has shown it (common practice, no source); it moves the search alone, never a result."""
NEAR = 0.025
"""A setting this near to the wanted current, as a share of it, is held: its voltage, once it has
settled, says more than another look."""
GROWS = 2.0
"""A unit that could give more each time is asked for so many times the last change."""
GUESSES_INSIDE = 2
"""With the right setting known to lie between two, so many guesses by the currents; then the
middle, which surely ends."""
SWITCHINGS_AT_MOST = 16
"""For one speed. Halving finds any of 1,000 settings in 10; a search that takes more follows a
unit that itself changes, and every switching wears a contactor."""


@dataclass(frozen=True, slots=True)
class Tried:
    """What a setting gave."""

    setting: int
    volts: float
    amps: float
    """The unit's own current [A]."""


class BankSeek:
    """Goes from what was tried to what is tried next; settings are numbers by rising current.

    Setting 0, all steps open, is never asked for: while the unit turns, one step at least stays
    closed (`acquire.cautions.CIRCUIT`).
    """

    def __init__(
        self, amps: Sequence[float], *, test_volts: float, battery_amps: float | None = None
    ) -> None:
        """`amps`: what each setting takes at the test voltage [A], rising from 0.

        `battery_amps`: what the battery took there at the step before [A].
        """
        self._amps = amps
        self._test_volts = test_volts
        self._battery_amps = battery_amps
        self._high = 0
        """The largest setting at which the unit was seen to have current to spare."""
        self._low = len(amps)
        """The smallest at which the bank was seen to take too much."""
        self._change = 0.0
        self._inside = 0

    @property
    def largest(self) -> int:
        """The setting with all steps closed."""
        return len(self._amps) - 1

    def first(self, unit_amps: float | None) -> int:
        """Where to begin, by what the unit should give [A]; half the bank where that is unknown."""
        if unit_amps is None:
            return self._nearest(self._amps[-1] / 2)
        return self._nearest(self._for_the_bank(unit_amps))

    def after(self, tried: Tried) -> int | None:
        """The next setting to try; None where `tried` is as near as the bank comes."""
        at = tried.setting
        wanted = self._for_the_bank(tried.amps)
        aim = self._nearest(wanted)
        if aim > at:
            aim = max(aim, self._nearest(self._amps[at] + GROWS * self._change))
            self._high = at
        elif aim < at:
            self._low = at
        near = abs(self._amps[aim] - self._amps[at]) <= NEAR * self._amps[at]
        if near or self._low - self._high <= 1:
            return None
        if self._high and self._low <= self.largest:
            aim = self._inside_of(aim)
        aim = min(max(aim, self._high + 1), self._low - 1)
        self._change = max(self._amps[aim] - self._amps[at], 0.0)
        return aim if aim != at else None

    def across(self, tried: Tried) -> int | None:
        """After `tried` was held: the setting on the other side of the test voltage.

        None where the bank has none.
        """
        at, wanted = tried.setting, self._for_the_bank(tried.amps)
        if tried.volts > self._test_volts:
            return None if at == self.largest else max(self._nearest(wanted), at + 1)
        return None if at == 1 else max(min(self._nearest(wanted), at - 1), 1)

    # ---- guesses ---------------------------------------------------------------------------

    def _inside_of(self, aim: int) -> int:
        self._inside += 1
        if self._inside <= GUESSES_INSIDE:
            return aim
        return self._nearest((self._amps[self._high] + self._amps[self._low]) / 2)

    def _nearest(self, amps: float) -> int:
        return min(range(1, len(self._amps)), key=lambda n: (abs(self._amps[n] - amps), n))

    def _for_the_bank(self, unit_amps: float) -> float:
        known = self._battery_amps
        return unit_amps - (BATTERY_SHARE * unit_amps if known is None else known)
