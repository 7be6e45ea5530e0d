"""A smooth curve through points that rises where they rise, and never beyond them.

Cubic Hermite pieces whose steepness at a point is the weighted harmonic mean of the two sides
(Fritsch, Butland, "A method for constructing local monotone piecewise cubic interpolants", SIAM
J. Sci. Stat. Comput. 5(2), 1984); at the ends from three points, held back where that overshoots.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class MonotoneCubic:
    """Through `known` (x rising, at least three points); outside them the end pieces go on."""

    def __init__(self, x: Sequence[float], y: Sequence[float]) -> None:
        self._x, self._y = np.asarray(x, float), np.asarray(y, float)
        self._steep = _steepness(self._x, self._y)

    def at(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Value and steepness at each `x`."""
        piece = np.clip(np.searchsorted(self._x, x, "right") - 1, 0, len(self._x) - 2)
        wide = self._x[piece + 1] - self._x[piece]
        grows = (self._y[piece + 1] - self._y[piece]) / wide
        first, last = self._steep[piece], self._steep[piece + 1]
        bend = (first + last - 2.0 * grows) / wide
        middle = (grows - first) / wide - bend
        into = x - self._x[piece]
        value = self._y[piece] + into * (first + into * (middle + into * bend / wide))
        return value, first + into * (2.0 * middle + 3.0 * into * bend / wide)


def _steepness(x: FloatArray, y: FloatArray) -> FloatArray:
    wide = np.diff(x)
    grows = np.diff(y) / wide
    steep = np.zeros_like(y)
    before, after = grows[:-1], grows[1:]
    rises = before * after > 0.0
    near, far = 2.0 * wide[1:] + wide[:-1], wide[1:] + 2.0 * wide[:-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = (near + far) / (near / before + far / after)
    steep[1:-1] = np.where(rises, mean, 0.0)
    steep[0] = _at_an_end(wide[0], wide[1], grows[0], grows[1])
    steep[-1] = _at_an_end(wide[-1], wide[-2], grows[-1], grows[-2])
    return steep


def _at_an_end(wide: float, next_wide: float, grows: float, next_grows: float) -> float:
    steep = ((2.0 * wide + next_wide) * grows - wide * next_grows) / (wide + next_wide)
    if steep * grows <= 0.0:
        return 0.0
    if grows * next_grows <= 0.0 and abs(steep) > 3.0 * abs(grows):
        return 3.0 * grows
    return steep
