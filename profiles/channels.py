"""The channels: every quantity a rig may measure, with its own unit of measure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

ChannelName = Literal[
    "shaft_rpm",
    "engine_rpm",
    "drive_rpm",
    "w_hz",
    "amps",
    "volts",
    "battery_volts",
    "field_amps",
    "field_volts",
    "ripple_volts",
    "case_c",
    "ambient_c",
    "torque_nm",
]
CHANNEL_NAMES: tuple[str, ...] = get_args(ChannelName)
SPEED_CHANNELS = ("shaft_rpm", "w_hz", "engine_rpm", "drive_rpm")
"""Channels from which the shaft speed can be had; the last two only with a pulley."""


@dataclass(frozen=True, slots=True)
class ChannelKind:
    """What one channel is: its unit of measure, its name in words, decimals worth showing."""

    name: str
    unit_of_measure: str
    words: str
    decimals: int


CHANNELS: dict[str, ChannelKind] = {
    kind.name: kind
    for kind in (
        ChannelKind("shaft_rpm", "rpm", "shaft speed", 0),
        ChannelKind("engine_rpm", "rpm", "engine speed", 0),
        ChannelKind("drive_rpm", "rpm", "motor speed", 0),
        ChannelKind("w_hz", "Hz", "frequency at W", 1),
        ChannelKind("amps", "A", "output current", 1),
        ChannelKind("volts", "V", "output voltage", 2),
        ChannelKind("battery_volts", "V", "battery voltage", 2),
        ChannelKind("field_amps", "A", "field current", 2),
        ChannelKind("field_volts", "V", "field voltage", 2),
        ChannelKind("ripple_volts", "V", "ripple (AC, RMS)", 3),
        ChannelKind("case_c", "°C", "case temperature", 0),
        ChannelKind("ambient_c", "°C", "ambient temperature", 0),
        ChannelKind("torque_nm", "N m", "torque", 2),
    )
}
