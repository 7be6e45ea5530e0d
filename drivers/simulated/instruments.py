"""Which instruments the simulated rig has, by the names a rig file uses: `simulated:NAME`."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from drivers.simulated.rig_model import RigModel
from drivers.simulated.servers.burst_meter import BurstMeter
from drivers.simulated.servers.line_server import (
    LineTalker,
    Sentence,
    checked_line,
    engine_sentence,
    plain_line,
)
from drivers.simulated.servers.modbus_devices import devices_of
from drivers.simulated.servers.modbus_server import Device, RtuModbus, TcpModbus
from drivers.simulated.servers.scpi_server import FieldSupply, HoldingLoad, Multimeter
from drivers.simulated.servers.server import Instrument
from profiles.address import SIMULATED
from profiles.errors import Problem, ProfileError

SHUNT_AMPS_PER_VOLT = 5000.0
"""A shunt of 300 A for 60 mV, read by a voltmeter."""
_DC = ("MEAS:VOLT:DC?", "MEAS:VOLT?")


@dataclass(frozen=True, slots=True)
class Offered:
    """One instrument: the channel whose faults it has, how it is made, and whether it is Modbus."""

    channel: str
    make: Callable[[RigModel, Mapping[int, Device], bool], Instrument]
    """From the rig, the devices on its Modbus line, and whether the wire is a serial line."""
    modbus: bool = False


def _lines(channel: str, sentence: Sentence, every_s: float) -> Offered:
    return Offered(
        channel,
        lambda model, _devices, _serial: LineTalker(
            model, channel=channel, sentence=sentence, every_s=every_s
        ),
    )


def _meter(channel: str, queries: tuple[str, ...] = _DC, scale: float = 1.0) -> Offered:
    return Offered(
        channel,
        lambda model, _devices, _serial: Multimeter(
            model, channel=channel, queries=queries, scale=scale
        ),
    )


def _line_of_devices(_model: RigModel, devices: Mapping[int, Device], serial: bool) -> Instrument:
    return RtuModbus(devices) if serial else TcpModbus(devices)


INSTRUMENTS: dict[str, Offered] = {
    "tachometer": _lines("shaft_rpm", checked_line("RPM"), 0.1),
    "ammeter": _meter("amps", scale=SHUNT_AMPS_PER_VOLT),
    "voltmeter": _meter("volts"),
    "drive": Offered("drive_rpm", _line_of_devices, modbus=True),
    "load": Offered("load", lambda model, _devices, _serial: HoldingLoad(model)),
    "thermometer": _lines("case_c", checked_line("CASE"), 1.0),
    "field": Offered("field", lambda model, _devices, _serial: FieldSupply(model)),
    "bank": Offered("bank", _line_of_devices, modbus=True),
    "clamp": _lines("amps", plain_line("{:+06.1f} A"), 0.5),
    "battery voltmeter": _meter("battery_volts"),
    "field ammeter": _meter("field_amps", ("MEAS:CURR:DC?", "MEAS:CURR?")),
    "field voltmeter": _meter("field_volts"),
    "ripple meter": _meter("ripple_volts", ("MEAS:VOLT:AC?",)),
    "burst meter": Offered("ripple_volts", lambda model, _devices, _serial: BurstMeter(model)),
    "frequency meter": _meter("w_hz", ("MEAS:FREQ?",)),
    "torque meter": _lines("torque_nm", plain_line("{:.2f} Nm"), 0.1),
    "room thermometer": _lines("ambient_c", checked_line("AIR"), 1.0),
    "engine": _lines("engine_rpm", engine_sentence, 0.5),
}
"""Every instrument by its name. All Modbus lines carry the same devices."""


def named(address: str) -> str:
    """The instrument that `simulated:NAME` means; a hyphen or underscore may stand for a space.

    Raises:
        ProfileError: If the rig has none of that name; names the nearest.
    """
    name = address.removeprefix(SIMULATED).strip().replace("-", " ").replace("_", " ")
    if name in INSTRUMENTS:
        return name
    near = difflib.get_close_matches(name, INSTRUMENTS, n=1)
    hint = f"Did you mean '{SIMULATED}{near[0]}'?" if near else f"Known: {', '.join(INSTRUMENTS)}."
    message = f"The simulated rig has no instrument '{name}'."
    raise ProfileError([Problem("simulated rig", address, message, hint)])


def devices(model: RigModel) -> Mapping[int, Device]:
    """The devices on the rig's Modbus lines."""
    return devices_of(model)
