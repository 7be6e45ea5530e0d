"""What the step of a display does to a mean, and to the scatter one may believe."""

from __future__ import annotations

import math


def step_left(shown_sd: float, resolution: float) -> float:
    """Share (0 to 1) of a display step's variance that averaging does not remove.

    Noise wider than about half a step dithers the display and averaging works; a quiet signal
    shows the same step however often it is read. What is known is the scatter of the readings *as
    shown*: a value near the edge of a step flickers between two, with little noise. With a share p
    of the readings on the upper of two steps they scatter by sqrt(p (1 - p)) steps, while the
    value lies anywhere between their mean and the edge, |1/2 - p| = sqrt(1/4 - p (1 - p)) steps
    away: taken as a rectangle, its variance is the twelfth of a squared step, less a third of the
    readings' variance.
    """
    if resolution <= 0.0:
        return 0.0
    return max(0.0, 1.0 - (2.0 * shown_sd / resolution) ** 2)


def step_u(shown_sd: float, resolution: float) -> float:
    """Standard uncertainty of a mean from the display step, in its unit; common to all readings."""
    return resolution / math.sqrt(12.0) * math.sqrt(step_left(shown_sd, resolution))


def scatter_floor(shown_sd: float, resolution: float, readings_per_mean: float) -> float:
    """Smallest variance of a mean of `readings_per_mean` that the display lets one claim."""
    if resolution <= 0.0:
        return 0.0
    left = step_left(shown_sd, resolution) + 1.0 / max(readings_per_mean, 1.0)
    return resolution**2 / 12.0 * left
