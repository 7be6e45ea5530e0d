"""What faults of the rectifier and the stator do to current and ripple, by speed over cut-in.

Computed in the time domain (three sources with winding resistance and inductance, six diodes of
1 V, a battery of 14 V, field constant) for the published machine of Rivas, Perreault and Keim
("Performance improvement of alternators with switched-mode rectifiers", IEEE Trans. Energy
Conversion 19(3), 2004): star, 6 pole pairs, 37 mohm and 120 uH a phase, 10.7 V a phase at 180 Hz.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.curve.model import FloatArray

_SPEED = (1.08, 1.15, 1.25, 1.4, 1.6, 1.8, 2.1, 2.5, 3.0, 4.0, 5.5, 7.5)
"""Speed over cut-in speed of a sound unit."""


@dataclass(frozen=True, slots=True)
class BridgeFault:
    """Gross current over a sound unit's, and RMS ripple current over the mean current."""

    share: tuple[float, ...]
    ripple: tuple[float, ...]
    lines: tuple[float, float, float]
    """First, second and sixth line of the ripple, over the root of the sum of their squares;
    typical from one and a half times the cut-in speed on."""

    def share_at(self, speed_ratio: FloatArray) -> FloatArray:
        """Current over a sound unit's, at speeds over the cut-in speed; held at both ends."""
        return np.interp(np.log(speed_ratio), np.log(_SPEED), self.share)

    def ripple_at(self, speed_ratio: FloatArray) -> FloatArray:
        """RMS ripple over mean current."""
        return np.exp(np.interp(np.log(speed_ratio), np.log(_SPEED), np.log(self.ripple)))


SOUND = BridgeFault(
    (1.0,) * 12,
    (0.301, 0.108, 0.052, *(0.042,) * 9),
    (0.0, 0.0, 1.0),
)
OPEN_DIODE = BridgeFault(
    (0.582, 0.577, 0.597, 0.621, 0.650, 0.698, 0.760, 0.813, 0.861, 0.924, 0.987, 1.042),
    (0.849, 0.722, 0.652, 0.588, 0.529, 0.486, 0.442, 0.426, 0.425, 0.435, 0.449, 0.460),
    (0.95, 0.32, 0.02),
)
TWO_OPEN_DIODES = BridgeFault(
    (0.256, 0.251, 0.270, 0.293, 0.318, 0.354, 0.414, 0.488, 0.570, 0.700, 0.840, 0.967),
    (1.606, 1.407, 1.279, 1.169, 1.077, 1.015, 0.950, 0.890, 0.838, 0.770, 0.709, 0.659),
    (0.98, 0.18, 0.02),
)
"""Two of the same polarity."""
OPEN_PHASE = BridgeFault(
    (0.214, 0.204, 0.235, 0.275, 0.317, 0.366, 0.442, 0.500, 0.529, 0.552, 0.564, 0.572),
    (1.678, 1.369, 1.145, 0.957, 0.806, 0.704, 0.596, 0.536, 0.513, 0.498, 0.491, 0.487),
    (0.0, 0.99, 0.10),
)
"""Both diodes of a phase, or its lead; in a star winding."""
UNEVEN_PHASE = BridgeFault(
    (0.307, 0.643, 0.814, 0.894, 0.943, 0.977, 0.999, 1.012, 1.020, 1.028, 1.030, 1.033),
    (1.053, 0.272, 0.114, 0.065, 0.053, 0.050, 0.049, 0.049, 0.048, 0.048, 0.048, 0.048),
    (0.0, 0.55, 0.83),
)
"""A tenth of the turns of one phase missing; a bad joint in one phase is much like it."""
