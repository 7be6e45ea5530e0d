"""Direct current out of a diode bridge held at a voltage, by look-up on a uniform grid.

The normalised map U(z) replaces the fundamental-frequency formula of Perreault and Caliskan (IEEE
Trans. Power Electronics 19(3), 2004, 618-630), which is too high near cut-in where the current is
discontinuous; far above cut-in both agree.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Sequence
from functools import cache
from itertools import pairwise

from drivers.simulated.bridge_tables import (
    HEALTHY,
    LINES,
    OPEN_DIODE,
    OPEN_PHASE,
    TWO_OPEN_DIODES,
    UNEVEN_PHASE,
    Row,
)

TABLES: dict[str, tuple[Row, ...]] = {
    "healthy": HEALTHY,
    "open-diode": OPEN_DIODE,
    "open-phase": OPEN_PHASE,
    "two-open-diodes": TWO_OPEN_DIODES,
    "uneven-phase": UNEVEN_PHASE,
}
LOSS_OHM_PER_PHASE_OHM = math.pi**2 / 6.0
"""Heat in the winding over direct current squared and phase resistance, for sinusoidal currents."""
DROP_OHM_PER_PHASE_OHM = 1.44
"""Voltage lost over direct current and phase resistance.

Fitted to the time-domain solution of three machines (it lies between 1.3 and 1.6 from cut-in to
four times that speed); fundamental theory would have pi^2 / 6.
"""

_TOP_Z = 12.0
_PER_Z = 200
_RIPPLE_PER_Z = 50


class Bridge:
    """One condition of the rectifier: `healthy`, `open-diode`, `open-phase`, ..."""

    __slots__ = ("_ripple", "_rises", "_values", "condition", "top_ratio")

    def __init__(self, condition: str) -> None:
        rows = TABLES[condition]
        self.condition = condition
        knots = [1.0] + [row[0] for row in rows] + [_TOP_Z]
        self.top_ratio = rows[-1][1] / rows[-1][0]
        currents = [0.0] + [row[1] for row in rows] + [self.top_ratio * _TOP_Z]
        curve = monotone_cubic(knots, currents)
        count = round((_TOP_Z - 1.0) * _PER_Z)
        self._values = [curve(1.0 + i / _PER_Z) for i in range(count + 1)]
        self._rises = [(b - a) * _PER_Z for a, b in pairwise(self._values)]
        ripple = [math.sqrt(sum(line * line for line in row[2:]) / 2.0) for row in rows]
        rms = monotone_cubic([row[0] for row in rows], ripple)
        last_z = rows[-1][0]
        self._ripple = [
            rms(1.02 + i / _RIPPLE_PER_Z) for i in range(int((last_z - 1.02) * _RIPPLE_PER_Z) + 1)
        ]

    def current(self, z: float) -> tuple[float, float]:
        """U(z) and dU/dz; both zero up to first conduction at z = 1."""
        place = (z - 1.0) * _PER_Z
        if place <= 0.0:
            return 0.0, 0.0
        index = int(place)
        if index >= len(self._rises):
            return self.top_ratio * z, self.top_ratio
        rise = self._rises[index]
        return self._values[index] + rise * (place - index) / _PER_Z, rise

    def amps(
        self,
        emf_volts: float,
        reactance_ohm: float,
        diode_bus_volts: float,
        ohm: float,
        near: float,
    ) -> float:
        """Direct current [A] into a bus, by Newton's method from the current `near`.

        Args:
            emf_volts: Peak phase EMF [V].
            reactance_ohm: Phase reactance at this speed [ohm].
            diode_bus_volts: Bus voltage plus the fixed drop of two diodes [V].
            ohm: What the DC side sees in series: winding and diodes [ohm].
            near: Where to begin: the current a step before [A].
        """
        peak = 1.7320508075688772 * emf_volts
        if peak <= diode_bus_volts:
            return 0.0
        amps = near
        values, rises = self._values, self._rises
        top = len(rises)
        for _ in range(30):
            volts = diode_bus_volts + ohm * amps
            z = peak / volts
            place = (z - 1.0) * _PER_Z
            if place <= 0.0:
                u = rise = 0.0
            else:
                index = int(place)
                if index >= top:
                    rise = self.top_ratio
                    u = rise * z
                else:
                    rise = rises[index]
                    u = values[index] + rise * (place - index) / _PER_Z
            wrong = (u * volts / reactance_ohm - amps) / (
                1.0 - ohm * (u - z * rise) / reactance_ohm
            )
            amps += wrong
            if amps < 0.0:
                amps = 0.0
            if -1e-3 < wrong < 1e-3:
                break
        return amps

    def ripple(self, z: float) -> float:
        """RMS of the ripple current over the mean current."""
        index = int((z - 1.02) * _RIPPLE_PER_Z)
        return self._ripple[min(max(index, 0), len(self._ripple) - 1)]

    def lines(self, z: float) -> dict[int, float]:
        """Amplitude over mean current of each multiple of the EMF frequency, at the nearest row."""
        row = min(TABLES[self.condition], key=lambda row: abs(row[0] - z))
        return dict(zip(LINES, row[2:], strict=True))


@cache
def bridge(condition: str) -> Bridge:
    """The bridge in a condition; built once."""
    return Bridge(condition)


def monotone_cubic(x: Sequence[float], y: Sequence[float]) -> Callable[[float], float]:
    """A curve through the points without overshoot (Fritsch and Butland, 1984)."""
    steps = [b - a for a, b in pairwise(x)]
    rises = [(b - a) / step for (a, b), step in zip(pairwise(y), steps, strict=True)]
    inner = [
        _knot_slope(before, after, step_before, step_after)
        for (before, after), (step_before, step_after) in zip(
            pairwise(rises), pairwise(steps), strict=True
        )
    ]
    slopes = [rises[0], *inner, rises[-1]]

    def curve(at: float) -> float:
        i = min(max(bisect_right(x, at) - 1, 0), len(steps) - 1)
        step, part = steps[i], (at - x[i]) / steps[i]
        rest = 1.0 - part
        return (
            rest * rest * (1.0 + 2.0 * part) * y[i]
            + part * part * (3.0 - 2.0 * part) * y[i + 1]
            + step * part * rest * (rest * slopes[i] - part * slopes[i + 1])
        )

    return curve


def _knot_slope(before: float, after: float, step_before: float, step_after: float) -> float:
    if before * after <= 0.0:
        return 0.0
    weight_1, weight_2 = 2.0 * step_after + step_before, step_after + 2.0 * step_before
    return (weight_1 + weight_2) / (weight_1 / before + weight_2 / after)
