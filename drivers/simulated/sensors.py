"""Instruments as they really read: lag, gain, zero that wanders, noise, a last digit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from random import Random

_ZERO_S = 600.0
CLAMP_ZERO_AMPS = 2.5
"""How far off a clamp is that was not zeroed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorKind:
    """What the data sheet would say; limits are half-widths of a uniform spread over sensors."""

    noise: float
    resolution: float
    noise_of_reading: float = 0.0
    gain_limit: float = 0.0
    zero_limit: float = 0.0
    zero_wander: float = 0.0
    """Standard deviation of the zero over hours."""
    lag_s: float = 0.0


SENSORS: dict[str, SensorKind] = {
    "shaft_rpm": SensorKind(noise=0.0, noise_of_reading=1e-4, resolution=0.1, lag_s=0.1),
    "engine_rpm": SensorKind(noise=0.0, noise_of_reading=1e-3, resolution=1.0, lag_s=0.2),
    "drive_rpm": SensorKind(noise=0.0, resolution=0.3),
    "w_hz": SensorKind(noise=0.0, noise_of_reading=2e-4, resolution=0.01, lag_s=0.1),
    "amps": SensorKind(
        noise=0.05,
        noise_of_reading=6e-4,
        resolution=0.01,
        gain_limit=1.5e-3,
        zero_limit=0.06,
        zero_wander=0.04,
        lag_s=0.06,
    ),
    "volts": SensorKind(noise=0.003, resolution=0.001, gain_limit=2e-4, lag_s=0.05),
    "battery_volts": SensorKind(noise=0.003, resolution=0.001, gain_limit=2e-4, lag_s=0.05),
    "field_amps": SensorKind(noise=0.01, resolution=0.01, gain_limit=5e-3, lag_s=0.05),
    "field_volts": SensorKind(noise=0.01, resolution=0.01, gain_limit=1e-3, lag_s=0.05),
    "ripple_volts": SensorKind(
        noise=0.001, noise_of_reading=0.01, resolution=0.001, gain_limit=0.01, lag_s=0.3
    ),
    "case_c": SensorKind(noise=0.05, resolution=0.1, zero_limit=0.8, lag_s=3.0),
    "ambient_c": SensorKind(noise=0.03, resolution=0.1, zero_limit=0.5),
    "torque_nm": SensorKind(noise=0.02, resolution=0.01, gain_limit=5e-3, lag_s=0.1),
}
"""One sensor for each channel."""

FAST = ("amps", "volts", "shaft_rpm")
"""Channels whose lag is followed at every step of the physics; the others ten times a second."""

NEVER_NEGATIVE = frozenset({"shaft_rpm", "engine_rpm", "drive_rpm", "w_hz", "ripple_volts"})


class Sensor:
    """One instrument on one channel; the same seed gives the same instrument and noise."""

    __slots__ = ("_floor", "_kind", "_rng", "followed", "gain", "lag_s", "zero", "zero_off")

    def __init__(self, channel: str, seed: int) -> None:
        kind = self._kind = SENSORS[channel]
        self._rng = Random(f"{seed}/{channel}")
        self._floor = 0.0 if channel in NEVER_NEGATIVE else -math.inf
        self.gain = 1.0 + self._rng.uniform(-kind.gain_limit, kind.gain_limit)
        self.zero = self._rng.uniform(-kind.zero_limit, kind.zero_limit)
        self.zero_off = 0.0
        """A zero that somebody forgot to take; does not wander back."""
        self.lag_s = kind.lag_s
        self.followed = 0.0

    def follow(self, truth: float, dt_s: float) -> None:
        """Let the instrument catch up for `dt_s`."""
        self.followed += (truth - self.followed) * (dt_s / (self.lag_s + dt_s))

    def wander(self, dt_s: float) -> None:
        """Let the zero drift: an Ornstein-Uhlenbeck walk."""
        spread = self._kind.zero_wander
        if spread:
            step = spread * math.sqrt(2.0 * dt_s / _ZERO_S)
            self.zero += -self.zero * dt_s / _ZERO_S + step * self._rng.gauss(0.0, 1.0)

    def read(self) -> float:
        """What the display shows now, in the channel's unit of measure."""
        kind = self._kind
        shown = self.followed * self.gain + self.zero + self.zero_off
        noise = kind.noise + kind.noise_of_reading * abs(shown)
        if noise:
            shown += noise * self._rng.gauss(0.0, 1.0)
        steps = round(max(shown, self._floor) / kind.resolution)
        return round(steps * kind.resolution, 6)
