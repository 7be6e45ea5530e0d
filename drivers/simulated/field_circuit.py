"""Regulator, brushes and rotor: from bus voltage to field current."""

from __future__ import annotations

from random import Random

from drivers.simulated.machine import Machine

_FULL_FIELD_VOLTS = 0.1
_PROPORTIONAL = 2.0
_INTEGRAL_PER_S = 6.0
_BRUSH_ON_S = 0.9
_BRUSH_OFF_S = 0.18
_BRUSH_OHM = 25.0
REGULATOR_LOW_VOLTS = 1.5
"""How far a regulator set low is off, on a 12 V system."""
WEAK_FIELD = 2.2
"""Rise of the field's resistance in a weak rotor (dirty rings, a bad joint)."""
SHORTED_FLUX = 0.85
SHORTED_OHM = 0.75
"""A rotor with shorted turns: less flux, more current."""


class FieldCircuit:
    """Field current of a machine behind its regulator."""

    def __init__(self, machine: Machine, rng: Random) -> None:
        self._rng = rng
        self._machine = machine
        self._scale = machine.scale
        self.amps = 0.0
        self.duty = 1.0
        self.ohm = machine.field_ohm
        self.ohm_factor = 1.0
        self.set_offset_volts = 0.0
        self.broken = False
        self.worn_brush = False
        self._brush_touches = True
        self._integral = 1.0

    def set_volts(self, case_c: float, ambient_c: float) -> float:
        """What the regulator holds [V]; it sits in the cooling air, half as warm as the case."""
        machine = self._machine
        regulator_c = 0.5 * (case_c + ambient_c)
        trend = machine.set_volts_per_k * (regulator_c - 25.0)
        return machine.set_volts_25 + trend + self.set_offset_volts

    def step(self, dt_s: float, volts: float, set_volts: float, *, supplied: bool) -> float:
        """Field current after `dt_s` [A]."""
        wrong = (set_volts - volts) / self._scale
        integral = self._integral + wrong * dt_s * _INTEGRAL_PER_S
        self._integral = integral = 1.0 if integral > 1.0 else 0.0 if integral < 0.0 else integral
        if wrong > _FULL_FIELD_VOLTS:
            duty = 1.0
        else:
            duty = integral + wrong * _PROPORTIONAL
            duty = 1.0 if duty > 1.0 else 0.0 if duty < 0.0 else duty
        ohm = self.ohm * self.ohm_factor
        if self.worn_brush:
            ohm += self._brush_ohm(dt_s)
        self.duty = duty = duty if supplied and not self.broken else 0.0
        push = duty * volts - self._machine.brush_volts
        # a coil's time constant is L / R: more resistance, quicker
        part = dt_s * ohm / (self._machine.field_tau_s * self._machine.field_ohm)
        self.amps += ((push if push > 0.0 else 0.0) / ohm - self.amps) * (part / (1.0 + part))
        return self.amps

    def _brush_ohm(self, dt_s: float) -> float:
        """A brush that lifts: on and off by chance, memoryless."""
        stay_s = _BRUSH_ON_S if self._brush_touches else _BRUSH_OFF_S
        if self._rng.random() < dt_s / stay_s:
            self._brush_touches = not self._brush_touches
        return 0.0 if self._brush_touches else _BRUSH_OHM
