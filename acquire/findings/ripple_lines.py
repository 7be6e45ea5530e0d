"""Lines of the ripple at multiples of the EMF frequency, from a burst of samples.

A sound bridge has none below the sixth. An open diode brings out the first, an open or uneven
phase the second. The quotients do not depend on the battery or the cable.
"""

from __future__ import annotations

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


class CannotResolve(ValueError):
    """A burst is too short or too coarse for the lines at this frequency."""


def lines_of(
    samples: Sequence[float], *, samples_per_s: float, emf_hz: float
) -> Mapping[int, float]:
    """Amplitude of each line in the unit of measure of `samples`, DC or AC coupled.

    Raises:
        CannotResolve: If the burst holds fewer than eight EMF periods, or is sampled slower than
            fifteen times the EMF frequency.
    """
    values = np.asarray(samples, float)
    if emf_hz <= 0.0 or len(values) * emf_hz < PERIODS_AT_LEAST * samples_per_s:
        raise CannotResolve(f"{len(values)} samples hold too few periods of {emf_hz:g} Hz")
    if samples_per_s < SAMPLES_A_LINE * LINES[-1] * emf_hz:
        raise CannotResolve(f"{samples_per_s:g} samples a second are too few for {emf_hz:g} Hz")
    window = np.hanning(len(values))
    weighed = (values - values.mean()) * window * (2.0 / window.sum())
    t_s = np.arange(len(values)) / samples_per_s
    near = emf_hz * (1.0 + np.linspace(-FREQUENCY_WITHIN, FREQUENCY_WITHIN, 41))
    best = max(near, key=lambda hz: float(np.sum(_amplitudes(weighed, t_s, float(hz)) ** 2)))
    found = _amplitudes(weighed, t_s, float(best))
    return {line: float(part) for line, part in zip(LINES, found, strict=True)}


def _amplitudes(weighed: FloatArray, t_s: FloatArray, emf_hz: float) -> FloatArray:
    turns = np.exp(-2j * np.pi * emf_hz * np.outer(LINES, t_s))
    amplitudes: FloatArray = np.abs(turns @ weighed)
    return amplitudes
