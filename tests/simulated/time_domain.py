"""Three phases, a six-diode bridge and a held voltage, integrated in the time domain.

An independent way to the currents that `drivers.simulated.bridge` looks up: backward Euler, star
winding, the star point found exactly at each step from the diodes' piecewise-linear law.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import dataclass

DIODE_ON_OHM = 0.002


@dataclass(frozen=True, slots=True)
class Winding:
    """What feeds the bridge: peak EMF and frequency of a phase, its resistance and inductance."""

    emf_volts: float
    hz: float
    ohm: float
    henry: float


@dataclass(frozen=True, slots=True)
class Open:
    """Which parts do not conduct: diodes to B+ and from earth by phase, and whole phases."""

    upper: frozenset[int] = frozenset()
    lower: frozenset[int] = frozenset()
    phases: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Direct:
    """Current into B+ over whole periods: mean, and amplitudes of its lines over the mean."""

    mean_amps: float
    lines: dict[int, float]


def direct_current(
    winding: Winding,
    *,
    volts: float,
    diode_volts: float,
    broken: Open = Open(),
    periods: int = 14,
    steps: int = 360,
) -> Direct:
    """Mean and lines of the current into a bus held at `volts`, over the last four periods."""
    dt_s = 1.0 / winding.hz / steps
    through = winding.henry / dt_s
    series = through + winding.ohm + DIODE_ON_OHM
    active = [k for k in range(3) if k not in broken.phases]
    up, down = volts + diode_volts, -diode_volts

    def phase_amps(k: int, open_volts: float) -> float:
        if open_volts > up and k not in broken.upper:
            return (open_volts - up) / series
        if open_volts < down and k not in broken.lower:
            return (open_volts - down) / series
        return 0.0

    amps = [0.0, 0.0, 0.0]
    direct: list[float] = []
    for n in range(1, periods * steps + 1):
        angle = 2.0 * math.pi * n / steps
        source = [
            winding.emf_volts * math.sin(angle - 2.0 * math.pi * k / 3.0) + through * amps[k]
            for k in range(3)
        ]
        star = _star_volts(source, active, (up, down), phase_amps)
        amps = [phase_amps(k, source[k] + star) if k in active else 0.0 for k in range(3)]
        direct.append(sum(a for a in amps if a > 0.0))
    return _analysed(direct[-4 * steps :], steps)


def _star_volts(
    source: list[float],
    active: list[int],
    bends: tuple[float, float],
    phase_amps: Callable[[int, float], float],
) -> float:
    """The star point's voltage at which the phase currents add to nothing."""
    places = sorted(bend - source[k] for k in active for bend in bends)
    places = [places[0] - 100.0, *places, places[-1] + 100.0]
    before, sum_before = places[0], sum(phase_amps(k, source[k] + places[0]) for k in active)
    for place in places[1:]:
        total = sum(phase_amps(k, source[k] + place) for k in active)
        if total >= 0.0:
            rise = total - sum_before
            return place if rise <= 0.0 else before + (place - before) * (-sum_before / rise)
        before, sum_before = place, total
    return before


def _analysed(direct: list[float], steps: int) -> Direct:
    mean = sum(direct) / len(direct)
    lines: dict[int, float] = {}
    for multiple in (1, 2, 3, 4, 6, 12):
        turn = -2j * math.pi * multiple / steps
        total = sum(value * cmath.exp(turn * n) for n, value in enumerate(direct))
        lines[multiple] = 2.0 * abs(total) / len(direct) / mean if mean > 0.0 else 0.0
    return Direct(mean, lines)
