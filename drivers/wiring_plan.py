"""Which parts of a rig share a port, and the driver that speaks for all of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

from drivers.actuator import Actuator
from drivers.code_drivers import code_driver
from drivers.drive import DriveLine
from drivers.errors import CannotOpen, InstrumentError
from drivers.field import LinesField, RegisterField, ScpiField
from drivers.lines import AskedLinesDriver, stream_driver
from drivers.load import BankLoad, HoldingLoad
from drivers.modbus import ModbusDriver
from drivers.modbus_frame import silence_s
from drivers.nmea0183 import nmea_driver
from drivers.port_address import is_modbus_tcp, is_serial, port_of
from drivers.port_driver import PortDriver
from drivers.scpi import ScpiDriver, ScpiSetting
from profiles.address import Wire
from profiles.drive import Drive, FieldRegister, FieldText, LoadBank, LoadHolds
from profiles.errors import advice_together
from profiles.instrument import (
    CodeChannel,
    LinesChannel,
    ModbusChannel,
    NmeaChannel,
    ScpiChannel,
)
from profiles.rig import Rig

Part = TypeVar("Part", bound=Wire)


@dataclass(slots=True)
class PortPlan:
    """One port and all that hangs on it, by channel, `drive`, `load` or `field`."""

    address: str
    parts: dict[str, Wire]
    driver: PortDriver | None = None
    actuators: list[Actuator] = field(default_factory=list)

    @property
    def names(self) -> str:
        """Everything on it, for messages."""
        return ", ".join(self.parts)

    @property
    def settle_s(self) -> float:
        """The longest wait that any part needs after opening [s]."""
        return max(part.settle_s for part in self.parts.values())

    @property
    def terminator(self) -> str:
        """How a line ends on this port."""
        return str(getattr(self.first, "terminator", "\n"))

    @property
    def first(self) -> Wire:
        """The part whose serial settings hold for the port."""
        return next(iter(self.parts.values()))


def plan_ports(rig: Rig) -> list[PortPlan]:
    """Group the wired parts of `rig` by port, each with its driver and its actuators.

    Raises:
        CannotOpen: Parts that cannot share a port do; all of them are named at once.
    """
    plans: dict[str, PortPlan] = {}
    for name, wire in rig.wires():
        address = port_of(wire)
        plans.setdefault(address, PortPlan(address, {})).parts[name.rpartition(".")[2]] = wire
    failures: list[InstrumentError] = []
    for plan in plans.values():
        try:
            _give_driver(plan, rig)
        except InstrumentError as error:
            failures.append(error)
    if failures:
        raise all_at_once(failures)
    return list(plans.values())


def all_at_once(failures: list[InstrumentError]) -> InstrumentError:
    """One error that names them all: the only one, or a `CannotOpen` that lists them."""
    if len(failures) == 1:
        return failures[0]
    names = ", ".join(dict.fromkeys(failure.instrument for failure in failures))
    error = CannotOpen(
        names,
        "\n".join(failure.what_was_wrong for failure in failures),
        what_to_do=advice_together((one.instrument, one.what_to_do) for one in failures),
    )
    error.failures = tuple(failures)
    return error


def _give_driver(plan: PortPlan, rig: Rig) -> None:
    kinds = {wire.driver: name for name, wire in plan.parts.items() if hasattr(wire, "driver")}
    if len(kinds) > 1:
        spoken = ", ".join(f"{name} speaks {kind}" for kind, name in kinds.items())
        raise CannotOpen(
            plan.names,
            f"one port cannot speak several languages ({spoken} at {plan.address}).",
            what_to_do="Give each its own port in the rig file.",
        )
    _check_same_settings(plan)
    plan.driver = _MAKERS[next(iter(kinds))](plan, rig)


def _check_same_settings(plan: PortPlan) -> None:
    if not is_serial(plan.address):
        return
    settings = {
        (wire.baud, wire.data_bits, wire.parity, wire.stop_bits) for wire in plan.parts.values()
    }
    if len(settings) > 1:
        raise CannotOpen(
            plan.names,
            f"they share {plan.address} but not its baud rate, parity, data or stop bits.",
            what_to_do="Write the same serial settings for all of them in the rig file.",
        )


def _lines(plan: PortPlan, rig: Rig) -> PortDriver:
    channels = _of_kind(plan, LinesChannel)
    asked = [name for name, channel in channels.items() if channel.query is not None]
    if asked and len(asked) < len(channels):
        raise CannotOpen(
            plan.names,
            f"on {plan.address} some lines are asked for and others come by themselves.",
            what_to_do="Give all of them a query, or none.",
        )
    kind = AskedLinesDriver if asked else stream_driver
    driver = kind(channels, plan.settle_s, plan.terminator)
    for part in _of_kind(plan, FieldText).values():
        plan.actuators.append(LinesField(part, driver))
    return driver


def _scpi(plan: PortPlan, rig: Rig) -> PortDriver:
    channels = _of_kind(plan, ScpiChannel)
    setting = ScpiSetting(plan.terminator, plan.settle_s)
    for name, part in plan.parts.items():
        if isinstance(part, ScpiChannel | LoadHolds):
            if part.identify is not None:
                setting.identify[name] = part.identify
            setting.setup[name] = part.setup
    driver = ScpiDriver(channels, setting)
    for part in plan.parts.values():
        if isinstance(part, LoadHolds):
            plan.actuators.append(HoldingLoad(part, driver, rig.limits.volts_max))
        elif isinstance(part, FieldText):
            plan.actuators.append(ScpiField(part, driver))
    return driver


def _modbus(plan: PortPlan, rig: Rig) -> PortDriver:
    tcp = is_modbus_tcp(plan.address)
    gaps = [part.gap_ms / 1000.0 for part in plan.parts.values() if part.gap_ms is not None]
    quiet_s = 0.0 if tcp else silence_s(plan.first.baud)
    driver = ModbusDriver(tcp=tcp, gap_s=max([quiet_s, *gaps]), settle_s=plan.settle_s)
    for name, part in plan.parts.items():
        if isinstance(part, ModbusChannel):
            driver.add_channel(name, part)
        elif isinstance(part, Drive):
            limit = rig.rig.max_shaft_rpm
            plan.actuators.append(DriveLine(part, driver, ratio=rig.ratio, max_shaft_rpm=limit))
        elif isinstance(part, LoadBank):
            plan.actuators.append(BankLoad(part, driver))
        elif isinstance(part, FieldRegister):
            plan.actuators.append(RegisterField(part, driver))
    return driver


def _nmea(plan: PortPlan, rig: Rig) -> PortDriver:
    return nmea_driver(_of_kind(plan, NmeaChannel), plan.settle_s)


def _code(plan: PortPlan, rig: Rig) -> PortDriver:
    return code_driver(_of_kind(plan, CodeChannel))


_MAKERS: dict[str, Callable[[PortPlan, Rig], PortDriver]] = {
    "lines": _lines,
    "scpi": _scpi,
    "modbus": _modbus,
    "nmea0183": _nmea,
    "code": _code,
}


def _of_kind(plan: PortPlan, kind: type[Part]) -> dict[str, Part]:
    return {name: part for name, part in plan.parts.items() if isinstance(part, kind)}
