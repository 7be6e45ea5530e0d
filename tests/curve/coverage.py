"""How often the 95 % band holds the truth: the same trial for the tests and the benchmark."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from acquire.curve import bridge_map
from acquire.curve.band import coverage_factor
from acquire.curve.fit import CurveFit, fit_curve
from acquire.curve.model import FloatArray
from acquire.curve.points import CurvePoint
from tests.curve.machines import circuit_current

ASKED = (1500.0, 1800.0, 2500.0, 4000.0, 6000.0)
DESIGNS: dict[str, tuple[float, ...]] = {
    "4 points 1500-6000": (1500, 2000, 3000, 6000),
    "5 points 1500-6000": (1500, 1900, 2600, 3800, 6000),
    "8 points 1500-6000": (1500, 1700, 2000, 2400, 3000, 3800, 4800, 6000),
    "11 points 1300-6000": (1300, 1500, 1700, 1900, 2200, 2600, 3000, 3600, 4300, 5100, 6000),
}
NOISE_AMPS = 1.0


def bridge_truth(rpm: FloatArray) -> FloatArray:
    return bridge_map.current(rpm, i_max_amps=100.0, n0_rpm=1000.0, r=0.35)


def drooping_truth(rpm: FloatArray) -> FloatArray:
    """The same machine, warmer the faster it turns: 0.4 % less for every 1000 rpm."""
    return bridge_truth(rpm) * (1 - 0.004 * rpm / 1000)


def circuit_truth(rpm: FloatArray) -> FloatArray:
    return circuit_current(rpm, i_max_amps=100.0, n0_rpm=1000.0, r=0.5)


TRUTHS: dict[str, Callable[[FloatArray], FloatArray]] = {
    "bridge map": bridge_truth,
    "bridge map, drooping": drooping_truth,
    "closed form": circuit_truth,
}


@dataclass(frozen=True)
class Coverage:
    """Share of trials in which band and delta-method band held the truth, at each speed asked."""

    band: tuple[float, ...]
    delta: tuple[float, ...]
    half_width: float
    """Mean half-width of the band, A."""


def coverage(
    truth: Callable[[FloatArray], FloatArray], speeds: Sequence[float], *, runs: int, seed: int
) -> Coverage:
    """Fit `runs` noisy sweeps and count."""
    random = np.random.default_rng(seed)
    rpm, asked = np.array(speeds, float), np.array(ASKED)
    true_amps = truth(asked)
    band, delta, width = np.zeros(len(asked)), np.zeros(len(asked)), 0.0
    for _ in range(runs):
        amps = truth(rpm) + random.normal(0, NOISE_AMPS, len(rpm))
        fit = fit_curve(
            [CurvePoint(*pair, u_amps=NOISE_AMPS) for pair in zip(rpm, amps, strict=True)]
        )
        found = fit.at(ASKED)
        band += [p.low <= true <= p.high for p, true in zip(found, true_amps, strict=True)]
        delta += np.abs(fit.bridge_map.amps(asked) - true_amps) <= _delta_half(fit, asked)
        width += float(np.mean([(p.high - p.low) / 2 for p in found])) / runs
    return Coverage(tuple(band / runs), tuple(delta / runs), width)


def _delta_half(fit: CurveFit, asked: FloatArray) -> FloatArray:
    factor = coverage_factor(fit.bridge_map.spread, fit.points.degrees_of_freedom)
    return factor * fit.bridge_map.u_amps(asked)
