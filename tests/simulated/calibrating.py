"""How the invented machines were fitted to their invented ratings."""

from __future__ import annotations

import math
from dataclasses import replace

from drivers.simulated.machine import Machine, after_soak


def calibrate(machine: Machine) -> Machine:
    """Flux and inductance that give the net amps of `machine.idle` and `machine.rated`, warmed up.

    Newton's method on the logarithms of both, with numeric slopes.

    Raises:
        ValueError: If no machine of this kind gives both points.
    """
    step = 1e-4
    for _ in range(40):
        low, high = _miss(machine)
        if abs(low) + abs(high) < 1e-7:
            return machine
        a, b = _miss(_scaled(machine, step, 0.0))
        c, d = _miss(_scaled(machine, 0.0, step))
        a, b, c, d = ((a - low) / step, (b - high) / step, (c - low) / step, (d - high) / step)
        det = a * d - b * c
        flux = (-low * d + high * c) / det
        henry = (-a * high + b * low) / det
        limit = 0.3 / max(abs(flux), abs(henry), 0.3)
        machine = _scaled(machine, flux * limit, henry * limit)
    raise ValueError(
        f"{machine.name}: no flux and inductance give both {machine.idle} and {machine.rated}"
    )


def _miss(machine: Machine) -> tuple[float, float]:
    low_rpm, low_amps = machine.idle
    high_rpm, high_amps = machine.rated
    return (
        after_soak(machine, low_rpm).net_amps - low_amps,
        after_soak(machine, high_rpm).net_amps - high_amps,
    )


def _scaled(machine: Machine, flux: float, henry: float) -> Machine:
    return replace(
        machine,
        flux_wb=machine.flux_wb * math.exp(flux),
        phase_henry=machine.phase_henry * math.exp(henry),
    )
