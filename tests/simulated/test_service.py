"""The served rig, reached by clients that are not ours: raw sockets, pyvisa-py, pymodbus."""

from __future__ import annotations

import contextlib
import os
import socket
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from drivers.simulated.instruments import INSTRUMENTS, named
from drivers.simulated.rig_clock import RigClock
from drivers.simulated.rig_model import RigModel
from drivers.simulated.service import SimulatedService
from profiles.catalogue import load_rig
from profiles.errors import ProfileError

PACE = 20.0
LONG_S = 20.0
"""Wall seconds that anything may take before a test gives up."""
POSIX = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals exist on POSIX only")


@pytest.fixture
def service() -> Iterator[SimulatedService]:
    one = SimulatedService(pace=PACE)
    one.start()
    yield one
    one.close()


@pytest.fixture
def on_terminals() -> Iterator[SimulatedService]:
    one = SimulatedService(pace=PACE, wires="pseudo-terminals")
    one.start()
    yield one
    one.close()


def until(true: Callable[[], bool]) -> bool:
    """Wait until something is so; False when it never was."""
    give_up_s = time.monotonic() + LONG_S
    while not true():
        if time.monotonic() > give_up_s:
            return False
        time.sleep(0.002)
    return True


def _free_number() -> int:
    with socket.create_server(("127.0.0.1", 0)) as server:
        return int(server.getsockname()[1])


def test_from_a_first_port_on_every_instrument_has_the_same_one_again() -> None:
    for _ in range(20):  # one of those that follow may be taken by somebody else
        first = min(_free_number(), 65000)
        services = [SimulatedService(pace=PACE, first_port=first) for _ in range(2)]
        found = []
        with contextlib.suppress(OSError):
            for service in services:
                found.append(service.start())
                service.close()
        services[0].close()
        if len(found) == 2:
            break
    assert found[0] == found[1]
    numbers = [int(address.rpartition(":")[2]) for address in found[0].values()]
    assert numbers == list(range(first, first + len(found[0])))


def plug(address: str) -> socket.socket:
    host, _, number = address.split("://")[1].rpartition(":")
    return socket.create_connection((host, int(number)), LONG_S)


def line_of(client: socket.socket) -> bytes:
    line = b""
    while not line.endswith(b"\n"):
        came = client.recv(1)
        if not came:
            raise ConnectionError(line)
        line += came
    return line


def asked(address: str, question: bytes) -> bytes:
    """The answer of an instrument at a socket or a serial device; empty when it is silent."""
    if "://" in address:
        with plug(address) as client:
            client.sendall(question)
            return line_of(client)
    import serial

    with serial.Serial(address, timeout=0.5) as port:
        port.write(question)
        return bytes(port.read_until(b"\n"))


def modbus_tcp(service: SimulatedService) -> Any:
    from pymodbus.client import ModbusTcpClient

    host, _, number = service.address("drive").split("://")[1].rpartition(":")
    client = ModbusTcpClient(host, port=int(number), timeout=LONG_S, retries=0)
    assert client.connect()  # type: ignore[no-untyped-call]
    return client


# ---- instruments over sockets --------------------------------------------------------------


def test_the_tachometer_talks_by_itself(service: SimulatedService) -> None:
    with plug(service.address("tachometer")) as client:
        lines = [line_of(client) for _ in range(5)]
    assert all(line.startswith(b"RPM=0.0*") for line in lines)


def test_pymodbus_turns_the_drive_and_stops_it(service: SimulatedService) -> None:
    client = modbus_tcp(service)
    try:
        assert not client.write_registers(0, [1, 5000], device_id=1).isError()
        assert client.read_holding_registers(0, count=2, device_id=1).registers == [1, 5000]
        assert until(lambda: service.model.truth("shaft_rpm") > 2600.0)
        assert client.read_holding_registers(10, count=1, device_id=1).registers[0] == 5000
        assert not client.write_register(0, 0, device_id=1).isError()
        assert until(lambda: service.model.truth("shaft_rpm") < 1.0)
        assert client.read_holding_registers(99, count=1, device_id=1).isError()
    finally:
        client.close()


def test_the_drive_stops_by_itself_when_its_line_falls_silent(service: SimulatedService) -> None:
    client = modbus_tcp(service)
    try:
        client.write_register(20, 20, device_id=1)
        client.write_registers(0, [1, 3000], device_id=1)
        assert until(lambda: service.model.truth("drive_rpm") > 100.0)
    finally:
        client.close()
    assert until(lambda: not service.model.motor.run)
    assert service.model.motor.stopped_for_silence


def test_pyvisa_reads_the_shunt_and_holds_the_load(service: SimulatedService) -> None:
    import pyvisa

    manager = pyvisa.ResourceManager("@py")
    try:
        kind: dict[str, Any] = {"read_termination": "\n", "write_termination": "\n"}
        meter = manager.open_resource(service.resource("ammeter"), **kind)
        load = manager.open_resource(service.resource("load"), **kind)
        assert abs(float(meter.query("MEAS:VOLT:DC?"))) < 1e-3  # type: ignore[attr-defined]
        assert load.query("MODE:VOLT;VOLT 13.5;INP ON;INP?") == "1"  # type: ignore[attr-defined]
        assert service.model.bus.hold_volts == 13.5
        assert load.query("SYST:ERR?").startswith("0,")  # type: ignore[attr-defined]
        meter.close()
        load.close()
    finally:
        manager.close()


@pytest.mark.parametrize("name", sorted(INSTRUMENTS))
def test_every_instrument_answers_or_talks(service: SimulatedService, name: str) -> None:
    with plug(service.address(name)) as client:
        if INSTRUMENTS[name].modbus:
            client.sendall(bytes.fromhex("00 07 00 00 00 06 01 03 00 00 00 01"))
            assert client.recv(11, socket.MSG_WAITALL)[:2] == b"\x00\x07"
            return
        client.sendall(b"*IDN?\n")  # talkers do not listen
        assert line_of(client).endswith(b"\n")


def test_the_newest_client_takes_the_instrument_over(service: SimulatedService) -> None:
    with plug(service.address("voltmeter")) as first, plug(service.address("voltmeter")) as second:
        second.sendall(b"MEAS:VOLT:DC?\n")
        assert float(line_of(second)) == pytest.approx(12.7, abs=0.1)
        assert first.recv(1) == b""


# ---- faults on wires -----------------------------------------------------------------------


def test_a_late_answer_comes_after_its_time_and_none_is_lost(service: SimulatedService) -> None:
    service.faults("voltmeter").late_s = 3.0
    service.faults("voltmeter").late_messages = 1
    with plug(service.address("voltmeter")) as client:
        asked_s = service.clock.monotonic_s()
        client.sendall(b"MEAS:VOLT:DC?\n")
        line_of(client)
        assert service.clock.monotonic_s() - asked_s >= 2.9
        asked_s = service.clock.monotonic_s()
        client.sendall(b"MEAS:VOLT:DC?\n")
        line_of(client)


@pytest.mark.parametrize("wires", ["sockets", pytest.param("pseudo-terminals", marks=POSIX)])
def test_a_pulled_cable_is_gone_and_comes_back_at_the_same_address(wires: str) -> None:
    service = SimulatedService(pace=PACE, wires=wires)
    service.start()
    try:
        address = service.address("voltmeter")

        def answers() -> bool:
            with contextlib.suppress(OSError):
                return asked(address, b"MEAS:VOLT:DC?\n").startswith(b"+1.2")
            return False

        assert until(answers)
        service.faults("voltmeter").out = True
        assert until(lambda: not answers())
        service.faults("voltmeter").out = False
        assert until(answers)
    finally:
        service.close()


def test_a_fault_asked_of_the_rig_by_name_is_on_the_wire_of_its_channel() -> None:
    service = SimulatedService(fault="garbage", pace=PACE)
    service.start()
    try:
        with plug(service.address("tachometer")) as client:
            came = b""
            while len(came) < 2000:
                came += client.recv(500)
        sound = came.count(b"RPM=0.0*")
        assert 0 < sound < came.count(b"\n") + 60
        assert any(byte > 127 for byte in came)
        assert service.faults("tachometer").garbage_share == pytest.approx(0.3)
        assert service.faults("ammeter").garbage_share == 0.0
    finally:
        service.close()


# ---- pseudo-terminals ----------------------------------------------------------------------


@POSIX
def test_pymodbus_reads_the_drive_as_rtu_on_a_serial_line(on_terminals: SimulatedService) -> None:
    from pymodbus.client import ModbusSerialClient

    client = ModbusSerialClient(
        on_terminals.address("drive"), baudrate=115200, timeout=LONG_S, retries=0
    )
    assert client.connect()
    try:
        assert not client.write_registers(0, [1, 4000], device_id=1).isError()
        assert client.read_holding_registers(0, count=2, device_id=1).registers == [1, 4000]
        bank = client.write_register(0, 3, device_id=2)
        assert not bank.isError()
        assert on_terminals.model.bus.bank_steps[:3] == (True, True, False)
    finally:
        client.close()  # type: ignore[no-untyped-call]


@POSIX
def test_lines_and_scpi_come_over_serial_lines_too(on_terminals: SimulatedService) -> None:
    import serial

    with serial.Serial(on_terminals.address("tachometer"), timeout=LONG_S) as port:
        port.read_until(b"\n")
        assert port.read_until(b"\n").startswith(b"RPM=0.0*")
    with serial.Serial(on_terminals.address("voltmeter"), timeout=LONG_S) as port:
        port.write(b"*ESE 5;*ESE?\n")
        assert port.read_until(b"\n") == b"5\n"


# ---- life ----------------------------------------------------------------------------------


def test_closing_twice_is_harmless_and_leaves_no_thread_and_no_socket() -> None:
    before = threading.active_count()
    service = SimulatedService(pace=PACE)
    addresses = service.start()
    assert service.start() == addresses
    assert threading.active_count() == before + 1
    service.close()
    service.close()
    assert threading.active_count() == before
    with pytest.raises(ConnectionRefusedError):
        plug(addresses["voltmeter"]).close()
    SimulatedService().close()


@POSIX
def test_pseudo_terminals_leave_no_device_behind() -> None:
    service = SimulatedService(wires="pseudo-terminals")
    addresses = service.start()
    assert all(os.path.exists(address) for address in addresses.values())  # noqa: PTH110
    service.close()
    assert not any(os.path.lexists(address) for address in addresses.values())


@pytest.mark.parametrize("pace", [1.0, 50.0])
def test_time_on_the_rig_is_never_ahead_of_pace_times_wall(pace: float) -> None:
    began_s = time.monotonic()
    service = SimulatedService(pace=pace)
    service.start()
    try:
        assert until(lambda: service.clock.monotonic_s() > 0.05)
        shown_s = service.clock.monotonic_s()
        assert shown_s <= (time.monotonic() - began_s) * pace + 1e-6
        service.clock.sleep_s(0.2)
        assert service.clock.monotonic_s() >= shown_s + 0.2
    finally:
        service.close()


def test_the_clock_never_goes_back_and_never_stands_still_for_ever() -> None:
    service = SimulatedService(pace=1000.0)
    shown = [service.clock.monotonic_s()]
    service.start()
    shown.append(service.clock.monotonic_s())
    service.clock.sleep_s(1.0)
    shown.append(service.clock.monotonic_s())
    service.close()
    shown.append(service.clock.monotonic_s())
    service.clock.sleep_s(5.0)
    shown.append(service.clock.monotonic_s())
    assert shown == sorted(shown)
    assert shown[-1] - shown[-2] >= 5.0
    assert service.clock.utc().tzinfo is not None


def test_a_clock_follows_the_rig_while_physics_runs() -> None:
    model = RigModel()
    clock = RigClock(model, 8.0)
    clock.follow_rig()
    first = clock.monotonic_s()
    assert clock.monotonic_s() == first
    model.advance(3.0)
    assert clock.monotonic_s() == pytest.approx(first + 3.0)


# ---- rig files -----------------------------------------------------------------------------


def test_a_rig_file_gets_addresses_pulleys_and_nothing_else_changed(
    service: SimulatedService,
) -> None:
    rig = load_rig("simulated").profile
    filled = service.filled_rig(rig)
    assert service.model.ratio == pytest.approx(rig.ratio)
    assert filled.channels["shaft_rpm"].port == service.address("tachometer")  # type: ignore[union-attr]
    assert filled.drive is not None
    assert filled.drive.port == service.address("drive")
    assert filled.drive.port.startswith("tcp://")
    assert rig.drive is not None
    assert rig.drive.port == "simulated:drive", "the original stays as it was"
    put_back = filled.model_copy(
        update={"channels": rig.channels, "drive": rig.drive, "load": rig.load}
    )
    assert put_back == rig


@pytest.mark.parametrize("name", ["simulated", "simulated-24"])
def test_all_addresses_of_the_shipped_rigs_are_known(name: str) -> None:
    rig = load_rig(name).profile
    wires = [*rig.channels.values(), rig.drive, rig.load, rig.field]
    addresses = [str(getattr(wire, "port", "")) for wire in wires if wire is not None]
    simulated = [address for address in addresses if address.startswith("simulated:")]
    assert len(simulated) >= 5
    assert all(named(address) in INSTRUMENTS for address in simulated)


def test_an_instrument_the_rig_does_not_have_is_named(service: SimulatedService) -> None:
    with pytest.raises(ProfileError, match="Did you mean 'simulated:tachometer'"):
        service.address("simulated:tachomter")
    assert named("simulated:ripple-meter") == "ripple meter"


def test_the_same_seed_reads_the_same_and_unknown_names_are_refused_at_once() -> None:
    first, again = (SimulatedService(seed=5).model.sense("volts") for _ in range(2))
    assert first == again
    with pytest.raises(ProfileError):
        SimulatedService(machine="nothing-like-it")
    with pytest.raises(ProfileError):
        SimulatedService(fault="nothing-like-it")
