"""Every shipped instrument description, tried against a simulated instrument on a real wire."""

from __future__ import annotations

import struct
from collections.abc import Iterator

import pytest
from pymodbus.client import ModbusTcpClient

from acquire.readiness import listen
from drivers.bench_wiring import BenchWiring
from drivers.clock import RealClock
from drivers.simulated.service import SimulatedService
from profiles.catalogue import entries, rig_from
from tests.drivers.peers import ModbusPeer

SHAFT_RPM = 3000.0
RATIO = 1.8
# description -> (channel, simulated instrument, other keys of this wire)
WIRED: dict[str, tuple[str, str, dict[str, object]]] = {
    "tachometer-lines": ("shaft_rpm", "tachometer", {}),
    "multimeter-on-shunt": ("amps", "ammeter", {}),
    "clamp-meter-lines": ("amps", "clamp", {}),
    "multimeter-volts": ("volts", "voltmeter", {}),
    "thermometer-lines": ("case_c", "thermometer", {}),
    "multimeter-ripple": ("ripple_volts", "ripple meter", {}),
    "fast-meter-ripple": ("ripple_volts", "burst meter", {}),
    "multimeter-frequency": ("w_hz", "frequency meter", {}),
    "torque-lines": ("torque_nm", "torque meter", {}),
    "engine-speed-nmea": ("engine_rpm", "engine", {}),
}
REGISTERS: dict[str, tuple[str, list[int], float]] = {
    "panel-meter-modbus": ("volts", list(struct.unpack(">HH", struct.pack(">f", 13.5))), 13.5),
    "thermocouple-modbus": ("case_c", [612, 0], 61.2),
}
"""description -> (channel, registers from 0 as its manual would have them, reading)"""
ACTUATORS = {"drive-modbus", "load-constant-voltage", "load-bank-modbus"}


@pytest.fixture(scope="module")
def service() -> Iterator[SimulatedService]:
    simulated = SimulatedService(pace=10.0)
    simulated.start()
    simulated.tell(lambda model: model.set_ratio(RATIO))
    simulated.tell(lambda model: model.load_hold(13.5))
    simulated.tell(lambda model: model.load_switch(on=True))
    simulated.tell(lambda model: model.set_motor_rpm(SHAFT_RPM / RATIO))
    simulated.tell(lambda model: model.set_run(on=True))
    simulated.clock.sleep_s(8.0)
    yield simulated
    simulated.close()


def test_every_shipped_description_is_tried_here() -> None:
    shipped = {entry.name for entry in entries("instruments")}
    assert shipped == set(WIRED) | set(REGISTERS) | ACTUATORS


@pytest.mark.parametrize("name", WIRED)
def test_a_described_meter_reads_what_is_there(service: SimulatedService, name: str) -> None:
    channel, instrument, keys = WIRED[name]
    rig = rig_from(
        {
            "title": f"One wire: {name}",
            "rig": {"pulley": {"drive_mm": 180.0, "alternator_mm": 100.0}},
            "channels": {
                "shaft_rpm": {"driver": "hand"},
                "amps": {"driver": "hand"},
                channel: {"like": name, "port": service.address(instrument), **keys},
            },
        },
        name,
    )
    wiring = BenchWiring(rig, service.clock)
    try:
        wiring.open(5.0)
        heard = listen(wiring, service.clock, 3.0)
    finally:
        wiring.close()
    good = [r.value for r in heard.get(channel, []) if r.usable and r.value is not None]
    assert good, heard
    truth = service.model.truth(channel)
    assert good[-1] == pytest.approx(truth, rel=0.05, abs=3.0)


@pytest.mark.parametrize("name", REGISTERS)
def test_a_described_register_reads_what_another_server_holds(name: str) -> None:
    channel, words, value = REGISTERS[name]
    with ModbusPeer() as peer:
        client = ModbusTcpClient("127.0.0.1", port=peer.port)
        assert client.connect()  # type: ignore[no-untyped-call]
        client.write_registers(0, words, device_id=1)
        client.close()  # type: ignore[no-untyped-call]
        typed = {other: {"driver": "hand"} for other in ("shaft_rpm", "amps") if other != channel}
        meter = {"like": name, "port": f"tcp://127.0.0.1:{peer.port}"}
        rig = rig_from({"title": name, "channels": {**typed, channel: meter}}, name)
        wiring = BenchWiring(rig, RealClock())
        try:
            wiring.open(5.0)
            latest = wiring.readings.latest(channel)
        finally:
            wiring.close()
    assert latest is not None
    assert latest.value == pytest.approx(value)


def test_the_described_drive_turns_and_stops_and_the_loads_switch() -> None:
    simulated = SimulatedService(pace=10.0)
    simulated.start()
    channels = {"shaft_rpm": {"driver": "hand"}, "amps": {"driver": "hand"}}
    pulley = {"pulley": {"drive_mm": 180.0, "alternator_mm": 100.0}}
    try:
        for load, instrument in (("load-constant-voltage", "load"), ("load-bank-modbus", "bank")):
            rig = rig_from(
                {
                    "title": "Actuators",
                    "rig": pulley,
                    "channels": channels,
                    "drive": {"like": "drive-modbus", "port": simulated.address("drive")},
                    "load": {"like": load, "port": simulated.address(instrument)},
                },
                load,
            )
            wiring = BenchWiring(rig, simulated.clock)
            wiring.open(5.0)
            try:
                assert wiring.drive is not None
                assert wiring.load is not None
                wiring.drive.run().wait(5.0)
                wiring.drive.set_shaft_rpm(1800.0).wait(5.0)
                simulated.clock.sleep_s(5.0)
                assert simulated.model.shaft_rpm == pytest.approx(1800.0, rel=0.03)
                wiring.drive.halt(5.0)
                assert simulated.model.motor.run is False
                wiring.load.off_now(5.0)
            finally:
                wiring.close()
    finally:
        simulated.close()
