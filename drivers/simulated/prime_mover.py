"""What turns the pulley: an electric drive with its own ramp, or an engine under a hand."""

from __future__ import annotations

import math
from random import Random

_ROTOR_LAG_S = 0.25
_DROOP_PER_NM = 0.0005
"""Speed lost per Nm of alternator torque (common practice, no source: about 0.4 % at 8 Nm)."""
_ENGINE_LAG_S = 1.2
_WOBBLE = 0.004
_WOBBLE_S = 3.0


class DriveMotor:
    """A motor on a frequency converter: output follows the set speed along the drive's own ramp.

    The converter stops by itself when it has been told a communication time-out and hears nothing
    for so long; the run command must then be given again.
    """

    def __init__(self, *, slew_rpm_per_s: float, fastest_rpm: float) -> None:
        self.slew_rpm_per_s = slew_rpm_per_s
        self.fastest_rpm = fastest_rpm
        self.run = False
        """The run command as it reads back."""
        self.set_rpm = 0.0
        """The set speed as it reads back, motor rpm."""
        self.output_rpm = 0.0
        self.rpm = 0.0
        self.ignores_stop = False
        self.comm_timeout_s = 0.0
        """0 = never stops by itself, as many converters leave the works."""
        self.stopped_for_silence = False
        self._heard_s = 0.0
        self._wanted_rpm = 0.0

    def hear(self, now_s: float) -> None:
        """A message reached the converter."""
        self._heard_s = now_s

    def command_run(self, on: bool) -> None:
        """Start, or stop along the ramp."""
        self.run = on
        if on:
            self.stopped_for_silence = False
        self._follow()

    def command_rpm(self, motor_rpm: float) -> None:
        """Set the speed, motor rpm."""
        self.set_rpm = min(max(motor_rpm, 0.0), self.fastest_rpm)
        self._follow()

    def _follow(self) -> None:
        wanted = self.set_rpm if self.run else 0.0
        if self.ignores_stop and wanted <= 0.0:
            return
        self._wanted_rpm = wanted

    def step(self, now_s: float, dt_s: float, shaft_torque_nm: float) -> float:
        """Motor speed after `dt_s` [rpm]."""
        if self.comm_timeout_s > 0.0 and now_s - self._heard_s > self.comm_timeout_s:
            self._fall_silent()
        most = self.slew_rpm_per_s * dt_s
        ahead = self._wanted_rpm - self.output_rpm
        self.output_rpm += most if ahead > most else -most if ahead < -most else ahead
        pulled = self.output_rpm * (1.0 - _DROOP_PER_NM * shaft_torque_nm)
        self.rpm += (pulled - self.rpm) * (dt_s / _ROTOR_LAG_S)
        if self.rpm < 0.01:
            self.rpm = 0.0
        return self.rpm

    def _fall_silent(self) -> None:
        if self.run or self._wanted_rpm > 0.0:
            self.run = False
            self.stopped_for_silence = True
            self._wanted_rpm = 0.0


class HandThrottle:
    """An engine, or a wheel, whose speed somebody holds as well as a hand can."""

    def __init__(self, rng: Random) -> None:
        self._rng = rng
        self._wanted_rpm = 0.0
        self._wobble = 0.0
        self.rpm = 0.0

    def move(self, rpm: float) -> None:
        """Open the throttle for a speed; the hand hits it within a per cent."""
        self._wanted_rpm = max(rpm, 0.0) * (1.0 + self._rng.gauss(0.0, 0.005))

    def step(self, dt_s: float) -> float:
        """Engine speed after `dt_s` [rpm]."""
        self.rpm += (self._wanted_rpm * (1.0 + self._wobble) - self.rpm) * (dt_s / _ENGINE_LAG_S)
        return self.rpm

    def wobble(self, dt_s: float) -> None:
        """Let the hand wander: an Ornstein-Uhlenbeck walk, stepped now and then."""
        spread = _WOBBLE * math.sqrt(2.0 * dt_s / _WOBBLE_S)
        self._wobble += -self._wobble * dt_s / _WOBBLE_S + spread * self._rng.gauss(0.0, 1.0)
