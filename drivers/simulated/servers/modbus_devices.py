"""What hangs on the Modbus line of the simulated rig: drive, bank, thermocouple, panel meter."""

from __future__ import annotations

import struct
from collections.abc import Callable

from drivers.simulated.rig_model import RigModel
from drivers.simulated.servers.modbus_server import ILLEGAL_VALUE, Device, Refused

HUNDREDTH_HZ_PER_RPM = 100.0 / 30.0
"""A four-pole motor: 30 rpm for one hertz, registers in hundredths of a hertz."""
DRIVE, BANK, THERMOCOUPLE, PANEL_METER = 1, 2, 3, 4
"""Device numbers on the line."""


def devices_of(model: RigModel) -> dict[int, Device]:
    """Every device of the rig, by its number."""
    return {
        DRIVE: drive_device(model),
        BANK: bank_device(model),
        THERMOCOUPLE: Device(inputs={0: lambda: _word(round(model.sense("case_c") * 10.0))}),
        PANEL_METER: Device(inputs=_float_registers(lambda: model.sense("amps"))),
    }


def drive_device(model: RigModel) -> Device:
    """Register 0 run, 1 set speed, 10 output (0.01 Hz), 20 communication time-out (0.1 s)."""
    motor = model.motor

    def run(value: int) -> None:
        if value not in (0, 1):
            raise Refused(ILLEGAL_VALUE)
        model.set_run(value == 1)

    def speed(value: int) -> None:
        if value / HUNDREDTH_HZ_PER_RPM > motor.fastest_rpm:
            raise Refused(ILLEGAL_VALUE)
        model.set_motor_rpm(value / HUNDREDTH_HZ_PER_RPM)

    return Device(
        holding={
            0: lambda: int(motor.run),
            1: lambda: _hundredths(motor.set_rpm),
            10: lambda: _hundredths(model.sense("drive_rpm")),
            20: lambda: round(motor.comm_timeout_s * 10.0),
        },
        inputs={10: lambda: _hundredths(model.sense("drive_rpm"))},
        write={0: run, 1: speed, 20: lambda value: model.set_comm_timeout(value / 10.0)},
        heard=model.hear,
    )


def bank_device(model: RigModel) -> Device:
    """Register 0: one bit for each resistor."""

    def switch(value: int) -> None:
        model.bank([bool(value >> bit & 1) for bit in range(16)])

    def steps() -> int:
        return sum(1 << bit for bit, on in enumerate(model.bus.bank_steps) if on)

    return Device(holding={0: steps}, write={0: switch})


def _hundredths(motor_rpm: float) -> int:
    return min(max(round(motor_rpm * HUNDREDTH_HZ_PER_RPM), 0), 0xFFFF)


def _word(value: int) -> int:
    """A signed number as a register holds it."""
    return value & 0xFFFF


def _float_registers(value: Callable[[], float]) -> dict[int, Callable[[], int]]:
    """IEEE 754 single precision in registers 0 and 1, high word first, read as one."""
    held = [0, 0]

    def high() -> int:
        held[:] = struct.unpack(">HH", struct.pack(">f", value()))
        return held[0]

    return {0: high, 1: lambda: held[1]}
