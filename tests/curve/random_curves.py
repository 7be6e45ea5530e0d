"""Sweeps as a workshop may read them: three kinds of machine, noise, outlier, limit, foot."""

from __future__ import annotations

import numpy as np

from acquire.curve import bridge_map, hyperbola
from acquire.curve.model import FloatArray
from acquire.curve.points import CurvePoint
from tests.curve.machines import circuit_current


def random_curve(seed: int) -> list[CurvePoint]:
    """3 to 15 points of a machine of 30 to 250 A; always the same ones for a seed."""
    random = np.random.default_rng(seed)
    top_amps, n0_rpm = random.uniform(30, 250), random.uniform(500, 1400)
    count, highest = int(random.integers(3, 16)), random.uniform(3, 8)
    lowest = 0.95 if random.random() < 0.3 else 1.15
    rpm = n0_rpm * np.geomspace(lowest, highest, count)
    sigma = top_amps * float(random.choice([0.0005, 0.002, 0.005, 0.01, 0.02]))
    amps = _truth(random, rpm, top_amps, n0_rpm)
    amps += random.normal(0, sigma, count) * random.choice([1.0, 1.0, 1.0, 2.5])
    if random.random() < 0.25:
        amps[random.integers(count)] *= random.uniform(0.7, 1.1)
    limit = top_amps * random.uniform(0.5, 0.95) if random.random() < 0.25 else np.inf
    u_amps = sigma if random.random() < 0.8 else None
    u_shaft_rpm = [None, None, 5.0, 20.0][random.integers(4)]
    return [
        CurvePoint(float(speed), float(min(reading, limit)), u_amps, u_shaft_rpm, reading > limit)
        for speed, reading in zip(rpm.tolist(), amps.tolist(), strict=True)
    ]


def _truth(
    random: np.random.Generator, rpm: FloatArray, top_amps: float, n0_rpm: float
) -> FloatArray:
    shape, kind = float(np.exp(random.normal(np.log(0.36), 0.35))), random.integers(3)
    if kind == 0:
        return bridge_map.current(rpm, i_max_amps=top_amps, n0_rpm=n0_rpm, r=shape)
    if kind == 1:
        return hyperbola.current(rpm, i_max_amps=top_amps, n0_rpm=n0_rpm, k=shape)
    return circuit_current(rpm, i_max_amps=top_amps, n0_rpm=n0_rpm, r=shape)
