"""Lines of the ripple at multiples of the EMF frequency, from a burst of samples.

A sound bridge has none below the sixth. An open diode brings out the first, an open or uneven
phase the second. The quotients do not depend on the battery or the cable.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from acquire.curve.model import FloatArray

LINES = (1, 2, 3, 6)
FREQUENCY_WITHIN = 0.01
"""The EMF frequency is looked for this close to where the speed puts it."""
PERIODS_AT_LEAST = 8.0
"""EMF periods a burst must hold for its lines to stand apart."""
SAMPLES_A_LINE = 2.5
"""Samples a period of the highest line; fewer and it would be folded back."""


EXPLAINED_AT_LEAST = 0.1
"""Share of the ripple's power that the lines must hold, or the frequency is not the EMF's. A bridge
holds 0.6 and more in them; noise, or lines looked for with a wrong number of poles, about 0.01."""


class CannotResolve(ValueError):
    """A burst does not show the lines at this frequency; `kind` is one word for why not."""

    def __init__(self, kind: str, words: str) -> None:
        super().__init__(words)
        self.kind = kind


def resolvable_hz(samples: int, sample_s: float) -> tuple[float, float]:
    """Lowest and highest EMF frequency whose lines such a burst can show [Hz]."""
    return PERIODS_AT_LEAST / (samples * sample_s), 1.0 / (SAMPLES_A_LINE * LINES[-1] * sample_s)


def lines_of(
    samples: Sequence[float], *, samples_per_s: float, emf_hz: float
) -> Mapping[int, float]:
    """Amplitude of each line in the unit of measure of `samples`, DC or AC coupled.

    Raises:
        CannotResolve: If the burst holds fewer than eight EMF periods, is sampled slower than
            fifteen times the EMF frequency, or has its ripple at other frequencies.
    """
    values = np.asarray(samples, float)
    _check_room(len(values), samples_per_s, emf_hz)
    window = np.hanning(len(values))
    weighed = (values - values.mean()) * window * (2.0 / window.sum())
    t_s = np.arange(len(values)) / samples_per_s
    near = emf_hz * (1.0 + np.linspace(-FREQUENCY_WITHIN, FREQUENCY_WITHIN, 41))
    best = max(near, key=lambda hz: float(np.sum(_amplitudes(weighed, t_s, float(hz)) ** 2)))
    found = _amplitudes(weighed, t_s, float(best))
    _check_explained(found, float(np.var(values)), emf_hz)
    return {line: float(part) for line, part in zip(LINES, found, strict=True)}


def _check_room(samples: int, samples_per_s: float, emf_hz: float) -> None:
    if emf_hz <= 0.0:
        raise CannotResolve("still", "nothing turns, so there is no EMF frequency")
    needed = math.ceil(PERIODS_AT_LEAST * samples_per_s / emf_hz)
    if samples < needed:
        raise CannotResolve(
            "short",
            f"a burst of {samples} samples holds {samples * emf_hz / samples_per_s:.1f} periods of"
            f" the EMF at {emf_hz:.0f} Hz, and {PERIODS_AT_LEAST:.0f} are needed: let it take"
            f" {needed} samples or more, or sample more slowly",
        )
    coarsest_s = 1.0 / (SAMPLES_A_LINE * LINES[-1] * emf_hz)
    if samples_per_s * coarsest_s < 1.0:
        raise CannotResolve(
            "coarse",
            f"samples {1e6 / samples_per_s:.0f} us apart are too far apart for an EMF of"
            f" {emf_hz:.0f} Hz: let them be {math.floor(1e6 * coarsest_s)} us apart or less",
        )


def _check_explained(amplitudes: FloatArray, power: float, emf_hz: float) -> None:
    if power > 0.0 and float(np.sum(amplitudes**2)) / 2.0 < EXPLAINED_AT_LEAST * power:
        raise CannotResolve(
            "elsewhere",
            f"the ripple is not at multiples of {emf_hz:.0f} Hz; look at the number of pole pairs,"
            " the time between samples, and whether the speed held",
        )


def _amplitudes(weighed: FloatArray, t_s: FloatArray, emf_hz: float) -> FloatArray:
    first = np.exp(-2j * np.pi * emf_hz * t_s)
    second = first * first
    third = second * first
    turns = np.array([first, second, third, third * third])  # LINES, in order
    amplitudes: FloatArray = np.abs(turns @ weighed)
    return amplitudes
