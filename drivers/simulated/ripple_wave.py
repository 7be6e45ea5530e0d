"""The ripple at B+ as a fast meter samples it: the lines of the bridge, one after the other."""

from __future__ import annotations

import cmath
import math
from random import Random

from drivers.simulated.rig_model import RigModel

NOISE_VOLTS = 0.0005
"""Scatter of one sample [V]."""
DIGIT_VOLTS = 1e-5
"""What one digit of the meter stands for [V]."""


def emf_hz(model: RigModel) -> float:
    """EMF frequency of the machine now [Hz]."""
    return model.machine.pole_pairs * model.shaft_rpm / 60.0


def line_volts(model: RigModel) -> dict[int, float]:
    """Amplitude of each multiple of the EMF frequency at B+ now [V]."""
    if model.gross_amps <= 0.0:
        return {}
    volts = model.gross_amps * model.bus.source_ohm
    return {line: share * volts for line, share in model.ripple_lines().items()}


def wave(model: RigModel, rng: Random, *, samples: int, sample_s: float) -> list[float]:
    """`samples` voltages at B+ [V], `sample_s` apart, from now on; the rig stands still meanwhile.

    Each line turns from sample to sample by the same angle, so no sine is worked out for each.
    """
    hz, gain = emf_hz(model), model.sensors["ripple_volts"].gain
    turning = [
        (
            cmath.rect(gain * volts, line * (math.tau * hz * model.now_s + 1.3)),
            cmath.rect(1.0, math.tau * line * hz * sample_s),
        )
        for line, volts in line_volts(model).items()
        if volts > 0.0
    ]
    rest = model.bus.volts
    out = [rest + rng.gauss(0.0, NOISE_VOLTS) for _ in range(samples)]
    for at, turn in turning:
        now = at
        for place in range(samples):
            out[place] += now.real
            now *= turn
    return [round(volts / DIGIT_VOLTS) * DIGIT_VOLTS for volts in out]
