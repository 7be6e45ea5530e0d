"""The alternator itself: parameters, losses, steady output, and fitting it to a rating.

Losses follow the usual split for claw-pole machines (winding, diodes, field, iron, friction and
windage), with the trend over speed measured by Sarafianos et al. ("Characterisation and Modelling
of Automotive Lundell Alternators", 2015): iron about n^1.45, friction a n + b n^3.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from drivers.simulated.bridge import DROP_OHM_PER_PHASE_OHM, LOSS_OHM_PER_PHASE_OHM, bridge

COPPER_PER_K = 0.00393
"""Rise of copper's resistance per kelvin from 20 degC (IEC 60028)."""
SOAK_RPM = 5000.0
"""Speed of the warm-up after which the machines are rated."""
RAD_PER_S_PER_RPM = 2.0 * math.pi / 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """An invented alternator. Resistances at 20 degC; star winding or its star equivalent."""

    name: str
    title: str
    nominal_volts: float
    test_volts: float
    pole_pairs: int
    flux_wb: float
    """Peak phase flux linkage with the field saturated [Wb]."""
    phase_henry: float
    phase_ohm: float
    field_ohm: float
    field_tau_s: float
    field_knee_amps: float
    """Field current where the iron begins to saturate [A]."""
    saturation_power: float = 3.0
    brush_volts: float = 0.6
    diode_volts: float = 0.75
    diode_ohm: float = 0.0015
    set_volts_25: float = 14.4
    set_volts_per_k: float = -0.010
    winding_j_per_k: float = 400.0
    case_j_per_k: float = 2100.0
    winding_w_per_k: float = 10.0
    case_w_per_k: float = 2.4
    """Heat given off standing still [W/K]."""
    fan_w_per_k: float = 3.0
    """Heat the fans add, times (n / 1000)^0.8 [W/K]."""
    rotor_k_per_w: float = 0.5
    iron_watts: float = 9.0
    friction_watts: float = 11.0
    windage_watts: float = 0.14
    belt_grip_nm: float = 14.0
    """Torque at the alternator's pulley where its belt begins to slip [Nm]."""
    idle: tuple[float, float] = (1500.0, 0.0)
    """Shaft speed and net amps the machine was fitted to at low speed, warmed up [rpm, A]."""
    rated: tuple[float, float] = (6000.0, 0.0)
    hot_net_amps: Mapping[float, float] = field(default_factory=dict)
    """Net amps at B+ against shaft rpm, warmed up at `SOAK_RPM`, 25 degC room, test voltage."""

    @property
    def scale(self) -> float:
        """1 for a 12 V system, 2 for 24 V."""
        return self.nominal_volts / 12.0

    def flux(self, field_amps: float) -> float:
        """Peak phase flux linkage [Wb] with the iron's saturation."""
        x = max(field_amps, 0.0) / self.field_knee_amps
        power = self.saturation_power
        return float(self.flux_wb * x / (1.0 + x**power) ** (1.0 / power))

    def emf_rad_per_s(self, shaft_rpm: float) -> float:
        """Electrical angular frequency [rad/s]."""
        return self.pole_pairs * shaft_rpm * RAD_PER_S_PER_RPM


@dataclass(frozen=True, slots=True)
class Losses:
    """Where the shaft's power goes that does not reach B+ [W]."""

    winding: float
    diodes: float
    field: float
    iron: float
    friction: float

    @property
    def total(self) -> float:
        return self.winding + self.diodes + self.field + self.iron + self.friction


@dataclass(frozen=True, slots=True)
class Temperatures:
    """How warm the parts of a machine are [degC]."""

    winding_c: float
    case_c: float
    rotor_c: float


@dataclass(frozen=True, slots=True)
class SteadyState:
    """A machine held at one speed and voltage."""

    gross_amps: float
    field_amps: float
    temperatures: Temperatures
    torque_nm: float
    efficiency: float

    @property
    def net_amps(self) -> float:
        """What leaves at B+ when the unit feeds its own field [A]."""
        return self.gross_amps - self.field_amps


def copper(ohm_20: float, temperature_c: float) -> float:
    """Resistance of copper at a temperature [ohm]."""
    return ohm_20 * (1.0 + COPPER_PER_K * (temperature_c - 20.0))


def idle_watts(
    machine: Machine, shaft_rpm: float, *, amps: float, flux: float
) -> tuple[float, float]:
    """Iron loss, and friction with windage [W]."""
    krpm = shaft_rpm / 1000.0
    saturation = flux / machine.flux_wb
    armature = 0.45 + 0.55 / (1.0 + (amps / 20.0) ** 2)
    iron = machine.iron_watts * saturation * saturation * krpm**1.45 * armature
    return iron, machine.friction_watts * krpm + machine.windage_watts * krpm**3


def gross_amps(
    machine: Machine,
    shaft_rpm: float,
    *,
    volts: float,
    field_amps: float,
    winding_c: float,
    condition: str = "healthy",
) -> float:
    """Bridge current [A] at a bus voltage, a field current and a winding temperature."""
    if shaft_rpm <= 0.0:
        return 0.0
    rad_per_s = machine.emf_rad_per_s(shaft_rpm)
    ohm = 2.0 * machine.diode_ohm + DROP_OHM_PER_PHASE_OHM * copper(machine.phase_ohm, winding_c)
    return bridge(condition).amps(
        rad_per_s * machine.flux(field_amps),
        rad_per_s * machine.phase_henry,
        volts + 2.0 * machine.diode_volts,
        ohm,
        0.0,
    )


def losses(
    machine: Machine,
    shaft_rpm: float,
    *,
    volts: float,
    amps: float,
    field_amps: float,
    winding_c: float,
) -> Losses:
    """All losses at an operating point [W]."""
    iron, friction = idle_watts(machine, shaft_rpm, amps=amps, flux=machine.flux(field_amps))
    return Losses(
        winding=LOSS_OHM_PER_PHASE_OHM * copper(machine.phase_ohm, winding_c) * amps * amps,
        diodes=2.0 * (machine.diode_volts + machine.diode_ohm * amps) * amps,
        field=volts * field_amps,
        iron=iron,
        friction=friction,
    )


def steady(
    machine: Machine,
    shaft_rpm: float,
    *,
    volts: float | None = None,
    ambient_c: float = 25.0,
    hot: bool = True,
    condition: str = "healthy",
) -> SteadyState:
    """Full-field output after the heat has settled at this speed (`hot`) or before it has begun."""
    bus = machine.test_volts if volts is None else volts
    now = Temperatures(ambient_c, ambient_c, ambient_c)
    state, lost = _at(machine, shaft_rpm, bus, now, condition)
    for _ in range(60 if hot else 0):
        state, lost = _at(machine, shaft_rpm, bus, now, condition)
        fans = machine.case_w_per_k + machine.fan_w_per_k * (shaft_rpm / 1000.0) ** 0.8
        into_case = lost.winding + 0.7 * lost.diodes + lost.field + lost.iron
        case_c = 0.5 * (now.case_c + ambient_c + (into_case + 0.6 * lost.friction) / fans)
        winding_c = 0.5 * (now.winding_c + case_c + lost.winding / machine.winding_w_per_k)
        now = Temperatures(winding_c, case_c, case_c + machine.rotor_k_per_w * lost.field)
    return state


def after_soak(
    machine: Machine,
    shaft_rpm: float,
    *,
    soak_rpm: float = SOAK_RPM,
    ambient_c: float = 25.0,
    condition: str = "healthy",
) -> SteadyState:
    """Full-field output soon after a long warm-up at another speed.

    Case and rotor are still as the warm-up left them; the winding has come to its own balance with
    the case. This is what a sweep after a warm-up reads.
    """
    soaked = steady(machine, soak_rpm, ambient_c=ambient_c).temperatures
    winding_c = soaked.winding_c
    for _ in range(40):
        now = Temperatures(winding_c, soaked.case_c, soaked.rotor_c)
        state, lost = _at(machine, shaft_rpm, machine.test_volts, now, condition)
        winding_c = 0.5 * (winding_c + soaked.case_c + lost.winding / machine.winding_w_per_k)
    return state


def _at(
    machine: Machine, shaft_rpm: float, volts: float, now: Temperatures, condition: str
) -> tuple[SteadyState, Losses]:
    """Full field at given temperatures."""
    field_amps = (volts - machine.brush_volts) / copper(machine.field_ohm, now.rotor_c)
    amps = gross_amps(
        machine,
        shaft_rpm,
        volts=volts,
        field_amps=field_amps,
        winding_c=now.winding_c,
        condition=condition,
    )
    lost = losses(
        machine,
        shaft_rpm,
        volts=volts,
        amps=amps,
        field_amps=field_amps,
        winding_c=now.winding_c,
    )
    power = volts * amps + lost.total
    torque_nm = power / (shaft_rpm * RAD_PER_S_PER_RPM)
    return SteadyState(amps, field_amps, now, torque_nm, volts * amps / power), lost
