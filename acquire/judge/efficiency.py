"""Efficiency where torque is measured, and the weighted figure of the EU decisions' four points.

Method after Commission Implementing Decision (EU) 2017/785, Annex (12 V motor-generators): half the
rated current at 14.3 V, at 1800, 3000, 6000 and 10000 rpm, weights 0.25, 0.40, 0.25, 0.10.
The formulae are written from memory and proved by the seven minimum efficiencies that Decision (EU)
2016/588, Art. 2(1)(c), as amended by (EU) 2020/759, prints. A result here is "method based on":
the decisions ask for five runs in a row, and for the current to be held.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from acquire.curve.points import Estimate
from acquire.plain_sum import plain_sum

WEIGHTS: Mapping[float, float] = {1800.0: 0.25, 3000.0: 0.40, 6000.0: 0.25, 10000.0: 0.10}
"""Shaft speed [rpm] -> weight."""
NEAR = 0.02
"""A reading counts for a point within this share of its speed."""
BASELINE = 0.67
SPARED_W = 400.0
"""750 W in real traffic less 350 W in the type approval."""
NEDC_KM_H = 33.58
"""Mean speed of the driving cycle, from memory, confirmed by the published minimum efficiencies."""
LEAST_G_PER_KM = 1.0
VOLTS = 14.3
RATED_SHARE = 0.5
"""Of the rated current."""
HOLD_S: Mapping[float, float] = {1800.0: 1200.0, 3000.0: 1200.0, 6000.0: 600.0, 10000.0: 300.0}
"""Shaft speed [rpm] -> how long it is held [s]."""
RUNS = 5
FUELS: Mapping[str, tuple[float, float]] = {
    "petrol": (0.264, 2330.0),
    "petrol turbo": (0.280, 2330.0),
    "diesel": (0.220, 2640.0),
    "lpg": (0.342, 1629.0),
    "lpg turbo": (0.363, 1629.0),
    "cng": (0.259, 1795.0),
    "cng turbo": (0.275, 1795.0),
}
"""Fuel -> litres for a kWh (gas: m³), grams of CO2 from one of them: Decision (EU) 2020/728."""


@dataclass(frozen=True, slots=True)
class Efficiency:
    """Electrical power out over shaft power in, at one speed; 0 to 1."""

    shaft_rpm: float
    value: float
    u: float

    def to_data(self) -> dict[str, float]:
        """As plain data."""
        return {"shaft_rpm": self.shaft_rpm, "efficiency": self.value, "u_efficiency": self.u}


def efficiency(
    *, amps: Estimate, volts: Estimate, torque_nm: Estimate, shaft_rpm: Estimate
) -> Efficiency:
    """eta = 60 U I / (2 pi M n), with the relative uncertainties added in squares.

    Raises:
        ValueError: If torque or speed is not above zero.
    """
    if torque_nm.value <= 0 or shaft_rpm.value <= 0:
        raise ValueError("torque and speed must be above zero")
    shaft_w = 2 * math.pi * torque_nm.value * shaft_rpm.value / 60
    value = volts.value * amps.value / shaft_w
    parts = [one.u / abs(one.value) for one in (amps, volts, torque_nm, shaft_rpm) if one.value]
    return Efficiency(shaft_rpm.value, value, abs(value) * math.hypot(*parts))


def weighted(points: list[Efficiency]) -> Efficiency | None:
    """The weighted efficiency of the four points; None unless each of them was measured.

    The points share their instruments, so their uncertainties add up straight.
    """
    found = {rpm: _nearest(points, rpm) for rpm in WEIGHTS}
    known = {rpm: one for rpm, one in found.items() if one is not None}
    if len(known) < len(WEIGHTS):
        return None
    value = plain_sum(WEIGHTS[rpm] * one.value for rpm, one in known.items())
    u = plain_sum(WEIGHTS[rpm] * one.u for rpm, one in known.items())
    return Efficiency(0.0, value, u)


def _nearest(points: list[Efficiency], shaft_rpm: float) -> Efficiency | None:
    near = [one for one in points if abs(one.shaft_rpm - shaft_rpm) <= NEAR * shaft_rpm]
    return min(near, key=lambda one: abs(one.shaft_rpm - shaft_rpm), default=None)


def minimum_efficiency(*, litres_per_kwh: float, grams_per_litre: float) -> float:
    """The least weighted efficiency that spares 1 g CO2 per km with this fuel, 0 to 1.

    Solves (P_RW - P_TA) (1/eta_B - 1/eta) V_pe CF / v = 1 g/km for eta.
    """
    k = SPARED_W / 1000 * litres_per_kwh * grams_per_litre / NEDC_KM_H
    return 1.0 / (1.0 / BASELINE - LEAST_G_PER_KM / k)


def least_of(fuel: str) -> float:
    """The least weighted efficiency for a fuel of `FUELS`, rounded up to 0.1 % as it is printed."""
    litres, grams = FUELS[fuel]
    least = minimum_efficiency(litres_per_kwh=litres, grams_per_litre=grams)
    return math.ceil(round(1000.0 * least, 6)) / 1000.0
