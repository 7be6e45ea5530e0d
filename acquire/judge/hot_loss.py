"""How much of the cold output is gone when the machine is hot, by shaft speed.

Copper has 0.39 %/K more resistance; the field current falls, and the cut-in speed rises, so the
loss is largest low on the curve.

Where the figures come from. A 50 A marine unit, read cold and hot at 13.5 V: 24 and 16 A at
1300 rpm, 50 and 41 A at 2500 rpm, that is 0.67 and 0.82 of the cold current hot (Westerbeke 33A
technical manual, p. 83). A rectifier-bridge model with heat gives 0.69 and 0.83 for that unit in
air of 90 °C, as in an engine room, so it agrees with the published pair within 0.02; the figures
for cooler air are that model's (computed, no published source). Warm ratings are taken in a room
(ISO 8854:2012, SAE J56), so the figures for air of 25 °C are the default.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

_AIR_C = (25.0, 60.0, 90.0)
_KEPT = (
    (1300.0, (0.85, 0.77, 0.69)),
    (2500.0, (0.89, 0.86, 0.83)),
    (5000.0, (0.93, 0.91, 0.88)),
)
"""(shaft rpm, hot over cold current at the air temperatures above)"""
_CUT_IN_RPM = 929.0
"""Cut-in speed of the published unit, from a curve through its three hot points."""
_CUT_IN_REACH = (0.75, 1.5)
"""An own cut-in speed counts between these multiples of the published unit's, so that a poor
estimate cannot explain the loss away."""
_U_SHARE = 0.2
"""Standard uncertainty of a loss as a share of it (our choice). Simulated 14 V machines lose from
the table's figure to a sixth less, a 28 V machine up to two fifths less: the table is on the safe
side (computed, no published source)."""
_U_SHARE_OUTSIDE = 0.5
"""The same below the lowest tabulated speed, where the loss is extended towards the cut-in."""


@dataclass(frozen=True, slots=True)
class HotLoss:
    """Share of the cold current that is lost when hot, 0 to 1, with its standard uncertainty."""

    fraction: float
    u: float


def hot_loss(shaft_rpm: float, *, cut_in_rpm: float | None = None, air_c: float = 25.0) -> HotLoss:
    """Share of the cold current lost at this shaft speed.

    With the machine's own `cut_in_rpm` the speeds of the table are taken relative to the cut-in.
    Below the table the cut-in is taken as shifted by a fixed number of rpm; above it the last
    figure holds. `air_c` is the air the machine is warm in [°C], held inside 25 to 90.
    """
    if not shaft_rpm > 0.0:
        raise ValueError(f"the shaft speed must be above 0 rpm: {shaft_rpm}")
    least, most = _CUT_IN_REACH
    own = 1.0 if cut_in_rpm is None else min(max(cut_in_rpm / _CUT_IN_RPM, least), most)
    rpm = shaft_rpm / own
    speeds = [speed for speed, _ in _KEPT]
    lost = [1.0 - _between(_AIR_C, kept, air_c) for _, kept in _KEPT]
    if rpm < speeds[0]:
        return _towards_cut_in(rpm, speeds[0], lost[0])
    fraction = _between(speeds, lost, rpm)
    return HotLoss(fraction, _U_SHARE * fraction)


def _towards_cut_in(rpm: float, lowest_rpm: float, lost_there: float) -> HotLoss:
    above = rpm - _CUT_IN_RPM
    reach = lost_there * (lowest_rpm - _CUT_IN_RPM)
    fraction = 1.0 if above <= reach else reach / above
    return HotLoss(fraction, _U_SHARE_OUTSIDE * fraction)


def _between(places: Sequence[float], values: Sequence[float], at: float) -> float:
    """Straight lines over the logarithm of the place; held at both ends."""
    if at <= places[0]:
        return values[0]
    for k in range(1, len(places)):
        if at <= places[k]:
            share = math.log(at / places[k - 1]) / math.log(places[k] / places[k - 1])
            return values[k - 1] + share * (values[k] - values[k - 1])
    return values[-1]
