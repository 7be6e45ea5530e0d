"""What the step of a display does to a mean, and to the scatter one may believe."""

from __future__ import annotations

import math


def step_left(within_sd: float, resolution: float) -> float:
    """Share (0 to 1) of a display step's variance that averaging does not remove.

    Noise wider than half a step dithers the display and averaging works; a quiet signal shows
    the same step however often it is read. First term of the Fourier series of the rounding
    error (Widrow and Kollar, Quantization Noise, 2008): exp(-4 pi^2 (sd / step)^2).
    """
    if resolution <= 0.0:
        return 0.0
    return math.exp(-4.0 * math.pi**2 * (within_sd / resolution) ** 2)


def step_u(within_sd: float, resolution: float) -> float:
    """Standard uncertainty of a mean from the display step, common to all its readings."""
    return resolution / math.sqrt(12.0) * math.sqrt(step_left(within_sd, resolution))


def scatter_floor(within_sd: float, resolution: float, readings_per_mean: float) -> float:
    """Smallest variance of a mean of `readings_per_mean` that the display lets one claim."""
    if resolution <= 0.0:
        return 0.0
    left = step_left(within_sd, resolution) + 1.0 / max(readings_per_mean, 1.0)
    return resolution**2 / 12.0 * left
