"""What the belt must carry: sections by current, and the power at the shaft."""

from __future__ import annotations

_EFFICIENCY = 0.55
"""M. Bradfield, "High Efficiency Generators" (white paper): 55 % for an ordinary alternator."""
_NARROW_AMPS, _WIDE_AMPS = 70.0, 100.0
"""Balmar 60 series manual: a single 3/8 in V-belt up to 70 A at 12 V, 1/2 in up to 100 A; above,
or for any 24 V unit, twin or multi-groove."""
_TWELVE_VOLTS = 18.0


def shaft_kw(*, amps: float, volts: float) -> float:
    """Power the belt must bring, kW, at 55 % efficiency (losses of the belt aside)."""
    return amps * volts / _EFFICIENCY / 1000


def belt_words(*, amps: float, volts: float) -> str:
    """Which belt the current asks for, and the power at the shaft."""
    power = f"about {shaft_kw(amps=amps, volts=volts):.1f} kW at the shaft"
    if volts > _TWELVE_VOLTS or amps > _WIDE_AMPS:
        return f"Belt: {power}; use twin belts or a multi-groove belt."
    if amps > _NARROW_AMPS:
        return f"Belt: {power}; a single V-belt must be 1/2 in (13 mm) wide at the back."
    return f"Belt: {power}; a single 3/8 in (10 mm) V-belt carries it."
