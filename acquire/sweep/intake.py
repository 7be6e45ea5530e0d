"""From readings to values a sweep may use: quality, derived speed, zero of the current sensor."""

from __future__ import annotations

from typing import NamedTuple

from acquire.sweep.plan import SweepPlan
from drivers.readings import Reading

SHAFT = "shaft_rpm"
AMPS = "amps"
VOLTS = "volts"


class Value(NamedTuple):
    """A usable value: speed as shaft speed, current net of the sensor's zero."""

    channel: str
    t_s: float
    value: float


class Intake:
    """Turns readings into values; remembers the last one of each channel."""

    def __init__(self, plan: SweepPlan) -> None:
        self._source = plan.speed_source
        self._ratio = plan.speed_ratio
        self.zero_amps = 0.0
        self.rest_volts: float | None = None
        """What B+ stood at when the zero was taken [V]; None where that was not read."""
        self.last: dict[str, Value] = {}

    def take(self, reading: Reading) -> Value | None:
        """The value of `reading`, or None where it may not enter a result."""
        if reading.value is None or not reading.usable:
            return None
        value = self._correct(reading.channel, reading.t_s, reading.value)
        self.last[value.channel] = value
        return value

    def _correct(self, channel: str, t_s: float, value: float) -> Value:
        if channel == self._source:
            return Value(SHAFT, t_s, value * self._ratio)
        if channel == AMPS:
            return Value(AMPS, t_s, value - self.zero_amps)
        return Value(channel, t_s, value)
