"""Loads, fields and drives at the level of what reaches the instrument."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from drivers.actuator import Actuator
from drivers.drive import DriveLine
from drivers.errors import CommandRefused, InstrumentClosed
from drivers.field import LinesField, RegisterField, ScpiField
from drivers.lines import StreamDriver
from drivers.load import BankLoad, HoldingLoad
from drivers.modbus import ModbusDriver
from drivers.pending import Pending
from drivers.port_driver import PortDriver
from drivers.scpi import ScpiDriver, ScpiSetting
from profiles.drive import Drive, FieldRegister, FieldText, LoadBank, LoadHolds
from tests.drivers.devices import RtuDevice, ScpiDevice, TalkingDevice, rpm_line
from tests.drivers.virtual import Device, Ran, make_port, run_port

BANK = {
    "driver": "modbus",
    "port": "COM1",
    "steps": [
        {"register": 20, "bit": 0, "amps": 20},
        {"register": 20, "bit": 3, "amps": 40},
        {"register": 21, "bit": 1, "amps": 80},
    ],
}
HOLDS = {
    "driver": "scpi",
    "port": "COM1",
    "mode": "MODE:VOLT",
    "set": "VOLT {value:.2f}",
    "on": "INP ON",
    "off": "INP OFF",
    "set_query": "VOLT?",
    "on_query": "INP?",
}


def give(
    actuator: Actuator,
    driver: PortDriver,
    device: Device,
    *commands: Callable[[], Pending[None]],
) -> tuple[Ran, list[Pending[None]]]:
    """Run a port and give one command each half second."""
    ran = make_port(driver, device)
    actuator.attach(ran.port)
    pendings: list[Pending[None]] = []
    for number, command in enumerate(commands, 1):
        ran.time.at(0.5 * number, lambda command=command: pendings.append(command()))  # type: ignore[misc]
    run_port(ran, 0.5 * len(commands) + 3.0)
    assert len(pendings) == len(commands)
    return ran, pendings


def succeeded(pendings: list[Pending[None]]) -> bool:
    return all(pending.done and pending.error is None for pending in pendings)


def test_a_bank_changes_its_own_bits_and_no_others() -> None:
    modbus = ModbusDriver(tcp=False, gap_s=0.00175)
    bank = BankLoad(LoadBank.model_validate(BANK), modbus)
    device = RtuDevice(registers={20: 0b1000_0010, 21: 0b1000_0000})
    _, pendings = give(
        bank,
        modbus,
        device,
        lambda: bank.set_bank([True, False, True]),
        lambda: bank.off(),
        lambda: bank.on(),
        lambda: bank.begin_off(),
    )
    assert succeeded(pendings)
    written = [(register, word) for _, register, word in device.written]
    assert (
        written
        == [
            (20, 0b1000_0011),
            (21, 0b1000_0010),
            (20, 0b1000_0010),
            (21, 0b1000_0000),
        ]
        * 2
    )


def test_a_bank_closes_the_new_steps_before_it_opens_the_old_ones() -> None:
    modbus = ModbusDriver(tcp=False, gap_s=0.00175)
    bank = BankLoad(LoadBank.model_validate(BANK), modbus)
    device = RtuDevice(registers={20: 0x8000, 21: 0})
    _, pendings = give(
        bank,
        modbus,
        device,
        lambda: bank.set_bank([True, False, False]),
        lambda: bank.set_bank([False, True, False]),
        lambda: bank.set_bank([False, False, True]),
    )
    assert succeeded(pendings)
    held = {20: 0x8000, 21: 0}
    for _, register, word in device.written:
        held[register] = word
        assert held[20] & 0x7FFF or held[21], "never nothing closed between two settings"
    assert held == {20: 0x8000, 21: 0b10}


def test_a_bank_reads_what_somebody_else_changed_before_it_writes() -> None:
    modbus = ModbusDriver(tcp=False, gap_s=0.00175)
    bank = BankLoad(LoadBank.model_validate(BANK), modbus)
    device = RtuDevice(registers={20: 0, 21: 0})

    def fan_on_then_load() -> Pending[None]:
        device.registers[20] |= 0x8000  # a fan on another bit of the same register
        return bank.set_bank([False, True, False])

    _, pendings = give(bank, modbus, device, lambda: bank.set_bank([True] * 3), fan_on_then_load)
    assert succeeded(pendings)
    assert device.registers[20] == 0x8000 | 0b1000
    assert device.registers[21] == 0


def test_a_bank_refuses_what_it_cannot_do() -> None:
    modbus = ModbusDriver(tcp=False, gap_s=0.00175)
    bank = BankLoad(LoadBank.model_validate(BANK), modbus)
    assert isinstance(bank.hold_volts(13.5).error, CommandRefused)
    assert "3 steps, not 2" in str(bank.set_bank([True, False]).error)
    assert isinstance(bank.set_bank([True] * 3).error, InstrumentClosed)  # not attached yet


class LoadDevice(ScpiDevice):
    """A load that can be read back; `sticks` keeps it off."""

    def __init__(self, *, sticks: bool = False, drifts: float = 0.0) -> None:
        super().__init__()
        self.sticks, self.drifts = sticks, drifts
        self.volts, self.is_on = 0.0, False

    def _line(self, line: str) -> None:
        super()._line(line)
        if line.startswith("VOLT "):
            self.volts = float(line[5:]) + self.drifts
        elif line == "VOLT?":
            self.reply(b"%.3fV\n" % self.volts)
        elif line == "INP ON":
            self.is_on = not self.sticks
        elif line == "INP OFF":
            self.is_on = False
        elif line == "INP?":
            self.reply(b"1\n" if self.is_on else b"0\n")


def holding(device: LoadDevice, volts_max: float | None = 16.0) -> tuple[HoldingLoad, ScpiDriver]:
    del device
    scpi = ScpiDriver({}, ScpiSetting())
    return HoldingLoad(LoadHolds.model_validate(HOLDS), scpi, volts_max), scpi


def test_a_load_is_set_switched_and_read_back() -> None:
    device = LoadDevice()
    load, scpi = holding(device)
    ran, pendings = give(
        load, scpi, device, lambda: load.hold_volts(13.5), load.on, load.off, load.begin_off
    )
    assert succeeded(pendings)
    told = [line for line in device.heard_lines if line[:3] in ("MOD", "VOL", "INP")]
    assert told == [
        "MODE:VOLT",
        "VOLT 13.50",
        "VOLT?",
        "INP ON",
        "INP?",
        "INP OFF",
        "INP?",
        "INP OFF",
        "INP?",
    ]
    assert ran.port.statistics.faults == 0


def test_a_load_that_does_not_do_as_told_is_refused() -> None:
    device = LoadDevice(sticks=True, drifts=0.5)
    load, scpi = holding(device)
    _, pendings = give(load, scpi, device, lambda: load.hold_volts(13.5), load.on)
    assert "it holds 14 V after VOLT 13.50" in str(pendings[0].error)
    assert "told to be on, it answers '0' to INP?" in str(pendings[1].error)


@pytest.mark.parametrize("volts", [0.0, -1.0, 16.1, float("nan"), float("inf")])
def test_voltages_outside_the_limits_are_never_sent(volts: float) -> None:
    device = LoadDevice()
    load, scpi = holding(device)
    _, pendings = give(load, scpi, device, lambda: load.hold_volts(volts))
    assert isinstance(pendings[0].error, CommandRefused)
    assert not [line for line in device.heard_lines if line.startswith("VOLT")]


def test_the_mode_is_sent_again_after_a_reconnect() -> None:
    device = LoadDevice()
    load, scpi = holding(device)
    ran = make_port(scpi, device)
    load.attach(ran.port)
    pendings: list[Pending[None]] = []

    def hold(volts: float) -> Callable[[], None]:
        return lambda: pendings.append(load.hold_volts(volts))

    ran.time.at(0.5, hold(13.5))
    ran.time.at(1.0, lambda: setattr(ran.link, "gone", True))
    ran.time.at(1.05, hold(13.0))
    ran.time.at(1.5, lambda: setattr(ran.link, "gone", False))
    ran.time.at(6.0, hold(14.0))
    run_port(ran, 8.0)
    told = [line for line in device.heard_lines if line[:4] in ("MODE", "VOLT")]
    assert told == ["MODE:VOLT", "VOLT 13.50", "VOLT?", "MODE:VOLT", "VOLT 14.00", "VOLT?"]
    assert [pending.error is None for pending in pendings] == [True, False, True]


def test_a_pulled_plug_is_noticed_even_where_nothing_is_asked() -> None:
    load, scpi = holding(LoadDevice())
    ran = make_port(scpi, LoadDevice())
    load.attach(ran.port)
    ran.time.at(1.0, lambda: setattr(ran.link, "gone", True))
    run_port(ran, 4.0)
    assert next(event.t_s for event in ran.events if event.kind == "lost") < 2.5


def test_a_field_is_switched_by_a_register_and_read_back() -> None:
    modbus = ModbusDriver(tcp=False, gap_s=0.00175)
    keys = {"driver": "modbus", "port": "COM1", "register": 30, "on": 5, "off": 2}
    field = RegisterField(FieldRegister.model_validate(keys), modbus)
    device = RtuDevice()
    _, pendings = give(field, modbus, device, field.on, field.off, field.on, field.begin_off)
    assert succeeded(pendings)
    assert [word for _, _, word in device.written] == [5, 2, 5, 2]


def test_a_field_is_switched_by_scpi_commands() -> None:
    scpi = ScpiDriver({}, ScpiSetting())
    keys = {"driver": "scpi", "port": "COM1", "on": "OUTP ON", "off": "OUTP OFF"}
    field = ScpiField(FieldText.model_validate(keys), scpi)
    device = ScpiDevice()
    _, pendings = give(field, scpi, device, field.on, field.begin_off)
    assert succeeded(pendings)
    assert [line for line in device.heard_lines if line.startswith("OUTP")] == [
        "OUTP ON",
        "OUTP OFF",
    ]


def test_a_field_is_switched_by_lines_beside_a_talking_instrument() -> None:
    lines = StreamDriver(0.0, "\n")
    lines.listen("shaft_rpm", lambda line: (1.0, None), silent_s=1.0)
    keys = {"driver": "lines", "port": "COM1", "on": "RELAY 1", "off": "RELAY 0"}
    field = LinesField(FieldText.model_validate(keys), lines)
    ran, pendings = give(field, lines, TalkingDevice(rpm_line), field.on, field.begin_off)
    assert succeeded(pendings)
    assert [data for _, data in ran.link.sent] == [b"RELAY 1\n", b"RELAY 0\n"]
    assert len(ran.good()) > 50


DRIVE = {
    "driver": "modbus",
    "port": "COM1",
    "run": {"register": 10, "on": 6, "off": 1},
    "speed": {"register": 11, "in": "rpm"},
    "comm_timeout": {"register": 20, "scale": 0.1, "in": "s", "set_s": 2.0},
}


@pytest.mark.parametrize(("held", "writes"), [(0, 1), (20, 0)])
def test_the_drives_timeout_is_written_only_when_it_differs(held: int, writes: int) -> None:
    modbus = ModbusDriver(tcp=False, gap_s=0.00175)
    drive = DriveLine(Drive.model_validate(DRIVE), modbus, ratio=1.0, max_shaft_rpm=None)
    device = RtuDevice(registers={10: 1, 20: held})
    ran, _ = give(drive, modbus, device)
    assert [word for _, register, word in device.written if register == 20] == [20] * writes
    assert ran.port.trouble is None
    assert drive.found_running is False


def test_a_drive_whose_timeout_cannot_be_set_is_not_used() -> None:
    class Stubborn(RtuDevice):
        def _pdu(self, pdu: bytes) -> bytes:
            return pdu if pdu[:3] == b"\x06\x00\x14" else super()._pdu(pdu)

    modbus = ModbusDriver(tcp=False, gap_s=0.00175)
    drive = DriveLine(Drive.model_validate(DRIVE), modbus, ratio=1.0, max_shaft_rpm=None)
    ran, _ = give(drive, modbus, Stubborn())
    assert "its communication time-out cannot be set" in str(ran.port.trouble)
    assert "the motor runs on when this computer dies" in str(ran.port.trouble)


@pytest.mark.parametrize("shaft_rpm", [-1.0, float("nan"), float("inf"), 70_000.0])
def test_speeds_that_cannot_be_set_are_refused(shaft_rpm: float) -> None:
    modbus = ModbusDriver(tcp=False, gap_s=0.00175)
    drive = DriveLine(Drive.model_validate(DRIVE), modbus, ratio=1.0, max_shaft_rpm=None)
    device = RtuDevice(registers={20: 20})
    _, pendings = give(drive, modbus, device, lambda: drive.set_shaft_rpm(shaft_rpm))
    assert isinstance(pendings[0].error, CommandRefused)
    assert device.written == []


def test_a_drive_that_reads_back_another_speed_is_refused() -> None:
    class Clipping(RtuDevice):
        def _pdu(self, pdu: bytes) -> bytes:
            answer = super()._pdu(pdu)
            if pdu[0] == 6:
                self.registers[11] = min(self.registers.get(11, 0), 1500)
            return answer

    modbus = ModbusDriver(tcp=False, gap_s=0.00175)
    drive = DriveLine(Drive.model_validate(DRIVE), modbus, ratio=2.0, max_shaft_rpm=None)
    device = Clipping(registers={20: 20})
    _, pendings = give(
        drive,
        modbus,
        device,
        lambda: drive.set_shaft_rpm(3000.0),
        lambda: drive.set_shaft_rpm(3200.0),
    )
    assert pendings[0].error is None
    assert "register 11 holds 1500 after 1600 was written" in str(pendings[1].error)
