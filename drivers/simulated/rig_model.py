"""The simulated rig: everything between a speed command and what the instruments show."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from random import Random

from drivers.simulated.belt import LOOSE_GRIP, Belt
from drivers.simulated.bridge import (
    DROP_OHM_PER_PHASE_OHM,
    LOSS_OHM_PER_PHASE_OHM,
    TABLES,
    bridge,
)
from drivers.simulated.bus import BAD_CABLE_OHM, Bus
from drivers.simulated.faults import WIRE_FAULTS, TimedFault, read_faults
from drivers.simulated.field_circuit import (
    REGULATOR_LOW_VOLTS,
    SHORTED_FLUX,
    SHORTED_OHM,
    WEAK_FIELD,
    FieldCircuit,
)
from drivers.simulated.heat import Heat
from drivers.simulated.machine import (
    RAD_PER_S_PER_RPM,
    SOAK_RPM,
    Losses,
    Machine,
    copper,
    idle_watts,
    steady,
)
from drivers.simulated.machines import find_machine
from drivers.simulated.prime_mover import DriveMotor, HandThrottle
from drivers.simulated.sensors import CLAMP_ZERO_AMPS, FAST, SENSORS, Sensor

DEFAULT_MACHINE = "small-frame-14v-90a"
DEFAULT_SEED = 1
STEP_S = 0.01
SLOW_STEPS = 10
"""Heat, drift and the hand on the throttle move once in so many steps."""
AMBIENT_C = 25.0
RATIO = 1.8
_SLEW_SHAFT_RPM_PER_S = 1200.0
_FASTEST_MOTOR_RPM = 19000.0
_SELF_EXCITED_AMPS = 0.5
_LEAST_EMF_VOLTS = 0.3
"""Less than this at a W terminal is not counted."""
_REMANENCE = 0.015
"""Flux left without field current, over the full flux."""
_STILL_RAD_PER_S = 5.0
LATE_S = 3.0
"""How late a late answer is [s on the rig]."""


class RigModel:
    """A machine on a rig, stepped at a fixed interval; deterministic for a seed.

    Speeds given to `set_motor_rpm` and `throttle` are in front of the belt. Nothing happens until
    `advance`. Times are seconds on the rig from 0.
    """

    def __init__(
        self,
        machine: str | Machine = DEFAULT_MACHINE,
        fault: str | None = None,
        seed: int = DEFAULT_SEED,
        *,
        ratio: float = RATIO,
        ambient_c: float = AMBIENT_C,
        step_s: float = STEP_S,
        field_from_bench: bool = False,
    ) -> None:
        self.machine = find_machine(machine) if isinstance(machine, str) else machine
        self.seed = seed
        self.step_s = step_s
        self.field_from_bench = field_from_bench
        rng = Random(f"{seed}/machine")
        self.motor = DriveMotor(
            slew_rpm_per_s=_SLEW_SHAFT_RPM_PER_S / ratio, fastest_rpm=_FASTEST_MOTOR_RPM
        )
        self.hand = HandThrottle(rng)
        self.belt = Belt(ratio=ratio, grip_nm=self.machine.belt_grip_nm)
        self.field = FieldCircuit(self.machine, rng)
        self.bus = Bus(scale=self.machine.scale, test_volts=self.machine.test_volts)
        self.heat = Heat(self.machine, ambient_c)
        self.sensors = {channel: Sensor(channel, seed) for channel in SENSORS}
        self.wire_faults: dict[str, str] = {}
        """Channel -> name of the fault on its wire that is on now."""
        self._waiting: list[TimedFault] = []
        self._ignition: bool | None = None
        self._field_switch = True
        self._by_hand = False
        self._bridge = bridge("healthy")
        self._flux_factor = 1.0
        self._steps = 0
        self.shaft_rpm = 0.0
        self.gross_amps = 0.0
        self.net_amps = 0.0
        self.torque_nm = 0.0
        self._idle_watts = 0.0
        self._frozen: dict[str, float] = {}
        self._remember_temperatures()
        self.fault_at(fault, 0.0)
        for channel in SENSORS:
            self.sensors[channel].followed = self.truth(channel)

    # ---- what can be done to it ------------------------------------------------------------

    @property
    def now_s(self) -> float:
        """Time on the rig [s]."""
        return self._steps * self.step_s

    @property
    def ratio(self) -> float:
        """Alternator pulley speed over drive pulley speed, without slip."""
        return self.belt.ratio

    def set_ratio(self, ratio: float) -> None:
        """Put on other pulleys; the drive's ramp is kept at the shaft."""
        self.belt.ratio = ratio
        self.motor.slew_rpm_per_s = _SLEW_SHAFT_RPM_PER_S / ratio

    def set_run(self, on: bool) -> None:
        """The drive's run command; the ignition goes with it unless `ignition` was used."""
        self.motor.command_run(on)

    def set_motor_rpm(self, rpm: float) -> None:
        """The drive's set speed, motor rpm."""
        self.motor.command_rpm(rpm)

    def set_comm_timeout(self, seconds: float) -> None:
        """The drive stops when it hears nothing for so long; 0 = never [s]."""
        self.motor.comm_timeout_s = max(seconds, 0.0)
        self.hear()

    def hear(self) -> None:
        """A message reached the drive."""
        self.motor.hear(self.now_s)

    def throttle(self, rpm: float) -> None:
        """An engine or a wheel turns the belt instead of the drive, by hand."""
        self._by_hand = True
        self.hand.move(rpm)

    def ignition(self, on: bool) -> None:
        """The lamp and ignition feed, from now on apart from the drive's run command."""
        self._ignition = on

    def field_switch(self, on: bool) -> None:
        """A switch in the field's feed."""
        self._field_switch = on

    def load_hold(self, volts: float) -> None:
        """The voltage the electronic load holds [V]."""
        self.bus.hold_volts = volts

    def load_switch(self, on: bool) -> None:
        """The electronic load's input."""
        self.bus.switch_hold(on)

    def bank(self, steps: Sequence[bool]) -> None:
        """Which resistors of the switched bank are in."""
        self.bus.switch_bank(steps)

    def set_bank(self, amps: Mapping[int, float]) -> None:
        """What each resistor of the bank takes at the test voltage, by its number or bit [A]."""
        self.bus.bank_amps = dict(amps)

    def pile(self, ohms: float | None) -> None:
        """The carbon pile, screwed to `ohms` or open (`None`)."""
        self.bus.set_pile(ohms)

    def fault_at(self, name: str | None, at_s: float) -> None:
        """Let a fault begin at `at_s` on the rig (at once where that is past); None is no fault.

        Raises:
            ProfileError: If the name is not known.
        """
        for one in read_faults(name):
            self._waiting.append(TimedFault(one.name, max(at_s, one.at_s), one.channel))
        self._waiting.sort(key=lambda one: one.at_s)
        self._start_faults()

    def soak(self, shaft_rpm: float = SOAK_RPM) -> None:
        """Warm the machine through as if it had run at a speed for an hour."""
        warm = steady(self.machine, shaft_rpm, ambient_c=self.heat.ambient_c).temperatures
        self.heat.soak(winding_c=warm.winding_c, case_c=warm.case_c, rotor_c=warm.rotor_c)
        self._remember_temperatures()
        for channel in ("case_c", "ambient_c"):
            self.sensors[channel].followed = self.truth(channel)

    # ---- what can be seen ------------------------------------------------------------------

    def sense(self, channel: str) -> float:
        """What the instrument on a channel shows now, in the channel's unit of measure.

        A frozen instrument repeats itself; the other faults of a wire are in `wire_faults`.
        """
        if self.wire_faults.get(channel) == "frozen-value":
            if channel not in self._frozen:
                self._frozen[channel] = self.sensors[channel].read()
            return self._frozen[channel]
        return self.sensors[channel].read()

    def truth(self, channel: str) -> float:
        """What is really so, in the channel's unit of measure."""
        return float(getattr(self, f"_true_{channel}")())

    def _true_shaft_rpm(self) -> float:
        return self.shaft_rpm

    def _true_drive_rpm(self) -> float:
        return self.motor.output_rpm

    def _true_engine_rpm(self) -> float:
        return self.hand.rpm if self._by_hand else self.motor.rpm

    def _true_w_hz(self) -> float:
        field_amps = self.field.amps
        flux = self.machine.flux(field_amps) + _REMANENCE * self.machine.flux_wb
        rad_per_s = self.machine.emf_rad_per_s(self.shaft_rpm)
        if rad_per_s * flux * self._flux_factor < _LEAST_EMF_VOLTS:
            return 0.0
        return self.machine.pole_pairs * self.shaft_rpm / 60.0

    def _true_amps(self) -> float:
        return self.net_amps

    def _true_volts(self) -> float:
        return self.bus.volts

    def _true_battery_volts(self) -> float:
        return self.bus.node_volts

    def _true_field_amps(self) -> float:
        return self.field.amps

    def _true_field_volts(self) -> float:
        return self.field.duty * self.bus.volts

    def _true_ripple_volts(self) -> float:
        if self.gross_amps <= 0.0:
            return 0.0
        return self.gross_amps * self._bridge.ripple(self.z) * self.bus.source_ohm

    def _true_case_c(self) -> float:
        return self.heat.case_c

    def _true_ambient_c(self) -> float:
        return self.heat.ambient_c

    def _true_torque_nm(self) -> float:
        return self.torque_nm

    @property
    def z(self) -> float:
        """Peak line EMF over bus voltage with drops: where the bridge works; 1 = cut-in."""
        machine = self.machine
        rad_per_s = machine.emf_rad_per_s(self.shaft_rpm)
        emf = rad_per_s * machine.flux(self.field.amps) * self._flux_factor
        volts = self.bus.volts + 2.0 * machine.diode_volts + self._series_ohm * self.gross_amps
        return math.sqrt(3.0) * emf / volts

    def ripple_lines(self) -> dict[int, float]:
        """Ripple current at multiples of the EMF frequency, over the mean."""
        return self._bridge.lines(self.z)

    # ---- the physics -----------------------------------------------------------------------

    def advance(self, to_s: float) -> None:
        """Let time pass until `to_s` on the rig, in whole steps and never beyond it."""
        steps = int(to_s / self.step_s + 1e-6)
        while self._steps < steps:
            self._step()

    def _step(self) -> None:
        dt_s = self.step_s
        self._steps += 1
        if self._waiting:
            self._start_faults()
        machine, bus, field = self.machine, self.bus, self.field
        volts = bus.volts
        # speed
        if self._by_hand:
            pulley_rpm = self.hand.step(dt_s)
            ignition = pulley_rpm > 50.0
        else:
            pulley_rpm = self.motor.step(self._steps * dt_s, dt_s, self.torque_nm)
            ignition = self.motor.run or self.motor.output_rpm > 0.0
        self.shaft_rpm = rpm = self.belt.step(dt_s, pulley_rpm, self.torque_nm)
        # field
        if self._ignition is not None:
            ignition = self._ignition
        fed = ignition or self.field_from_bench or self.gross_amps > _SELF_EXCITED_AMPS
        field_amps = field.step(dt_s, volts, self._set_volts, supplied=fed and self._field_switch)
        # output
        rad_per_s = machine.emf_rad_per_s(rpm)
        if rpm > 50.0:
            amps = self._bridge.amps(
                rad_per_s * machine.flux(field_amps) * self._flux_factor,
                rad_per_s * machine.phase_henry,
                volts + 2.0 * machine.diode_volts,
                self._series_ohm,
                self.gross_amps,
            )
        else:
            amps = 0.0
        self.gross_amps = amps
        self.net_amps = net = amps if self.field_from_bench else amps - field_amps * field.duty
        # torque: what leaves, what the copper, the diodes and the field eat, and the idle losses
        watts = (volts + 2.0 * machine.diode_volts + self._loss_ohm * amps) * amps
        watts += volts * field.duty * field_amps + self._idle_watts
        speed = rpm * RAD_PER_S_PER_RPM
        self.torque_nm = watts / (speed if speed > _STILL_RAD_PER_S else _STILL_RAD_PER_S)
        volts = bus.step(dt_s, net)
        sensors = self.sensors
        sensors["amps"].follow(net, dt_s)
        sensors["volts"].follow(volts, dt_s)
        sensors["shaft_rpm"].follow(rpm, dt_s)
        if self._steps % SLOW_STEPS == 0:
            self._slow_step(SLOW_STEPS * dt_s)

    def _slow_step(self, dt_s: float) -> None:
        machine, amps, rpm = self.machine, self.gross_amps, self.shaft_rpm
        flux = machine.flux(self.field.amps) * self._flux_factor
        iron, friction = idle_watts(machine, rpm, amps=amps, flux=flux)
        self._idle_watts = iron + friction
        lost = Losses(
            winding=(self._loss_ohm - 2.0 * machine.diode_ohm) * amps * amps,
            diodes=2.0 * (machine.diode_volts + machine.diode_ohm * amps) * amps,
            field=self.bus.volts * self.field.duty * self.field.amps,
            iron=iron,
            friction=friction,
        )
        self.heat.step(dt_s, rpm, lost)
        self._remember_temperatures()
        self.bus.age(dt_s)
        self.hand.wobble(dt_s)
        for channel, sensor in self.sensors.items():
            sensor.wander(dt_s)
            if channel not in FAST:
                sensor.follow(self.truth(channel), dt_s)

    def _remember_temperatures(self) -> None:
        """What follows from temperatures only, worked out once in a while."""
        machine, heat = self.machine, self.heat
        winding = copper(machine.phase_ohm, heat.winding_c)
        self._series_ohm = 2.0 * machine.diode_ohm + DROP_OHM_PER_PHASE_OHM * winding
        self._loss_ohm = 2.0 * machine.diode_ohm + LOSS_OHM_PER_PHASE_OHM * winding
        self.field.ohm = copper(machine.field_ohm, heat.rotor_c)
        self._set_volts = self.field.set_volts(heat.case_c, heat.ambient_c)

    # ---- faults ----------------------------------------------------------------------------

    def _start_faults(self) -> None:
        now_s = self.now_s
        while self._waiting and self._waiting[0].at_s <= now_s:
            self._begin(self._waiting.pop(0))

    def _begin(self, fault: TimedFault) -> None:
        name = fault.name
        if name in WIRE_FAULTS:
            self.wire_faults[fault.channel] = name
        elif name in TABLES:
            self._bridge = bridge(name)
        else:
            getattr(self, f"_begin_{name.replace('-', '_')}")()

    def _begin_not_excited(self) -> None:
        self.field.broken = True

    def _begin_worn_brush(self) -> None:
        self.field.worn_brush = True

    def _begin_weak_field(self) -> None:
        self.field.ohm_factor = WEAK_FIELD

    def _begin_shorted_turns(self) -> None:
        self.field.ohm_factor = SHORTED_OHM
        self._flux_factor = SHORTED_FLUX

    def _begin_regulator_low(self) -> None:
        self.field.set_offset_volts = -REGULATOR_LOW_VOLTS * self.machine.scale
        self._remember_temperatures()

    def _begin_slipping_belt(self) -> None:
        self.belt.grip_nm = self.machine.belt_grip_nm * LOOSE_GRIP

    def _begin_cable_drop(self) -> None:
        self.bus.cable_ohm = BAD_CABLE_OHM * self.machine.scale

    def _begin_clamp_zero_off(self) -> None:
        self.sensors["amps"].zero_off = CLAMP_ZERO_AMPS

    def _begin_drive_ignores_stop(self) -> None:
        self.motor.ignores_stop = True
