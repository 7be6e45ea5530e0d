"""Units of measure a file may name in `in = …`, and how they turn into the channel's own."""

from __future__ import annotations

from profiles.channels import CHANNELS

Conversion = tuple[float, float]
"""(factor, added): value in the channel's own unit of measure = given * factor + added."""

_ZERO_CELSIUS_IN_KELVIN = 273.15

RPM: dict[str, Conversion] = {
    "rpm": (1.0, 0.0),
    "1/min": (1.0, 0.0),
    "r/min": (1.0, 0.0),
    "Hz": (60.0, 0.0),  # turns per second
    "1/s": (60.0, 0.0),
}
HERTZ: dict[str, Conversion] = {"Hz": (1.0, 0.0), "kHz": (1000.0, 0.0), "mHz": (0.001, 0.0)}
AMPS: dict[str, Conversion] = {"A": (1.0, 0.0), "mA": (0.001, 0.0), "kA": (1000.0, 0.0)}
VOLTS: dict[str, Conversion] = {"V": (1.0, 0.0), "mV": (0.001, 0.0), "kV": (1000.0, 0.0)}
CELSIUS: dict[str, Conversion] = {
    "C": (1.0, 0.0),
    "°C": (1.0, 0.0),
    "degC": (1.0, 0.0),
    "F": (5.0 / 9.0, -160.0 / 9.0),
    "°F": (5.0 / 9.0, -160.0 / 9.0),
    "degF": (5.0 / 9.0, -160.0 / 9.0),
    "K": (1.0, -_ZERO_CELSIUS_IN_KELVIN),
}
NEWTON_METRES: dict[str, Conversion] = {
    "Nm": (1.0, 0.0),
    "N m": (1.0, 0.0),
    "N·m": (1.0, 0.0),
    "lbf ft": (1.3558179483314004, 0.0),  # NIST SP 811, B.8: pound-force foot
}
_FOR_UNIT: dict[str, dict[str, Conversion]] = {
    "rpm": RPM,
    "Hz": HERTZ,
    "A": AMPS,
    "V": VOLTS,
    "°C": CELSIUS,
    "N m": NEWTON_METRES,
}


def known_for(channel: str) -> dict[str, Conversion]:
    """Give the units of measure a channel may be read in, each with its conversion."""
    return _FOR_UNIT[CHANNELS[channel].unit_of_measure]


def conversion(channel: str, unit_of_measure: str | None) -> Conversion:
    """Give (factor, added) from `unit_of_measure` to the channel's own; None means its own."""
    return (1.0, 0.0) if unit_of_measure is None else known_for(channel)[unit_of_measure]
