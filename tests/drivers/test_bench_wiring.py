"""The whole wiring against instruments that are not ours, on real sockets."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest

from drivers.bench_wiring import BenchWiring
from drivers.clock import RealClock
from drivers.errors import CannotOpen, CommandRefused
from drivers.readings import Quality
from tests.drivers.peers import ModbusPeer, ScpiPeer, SocketPeer, lines_every
from tests.drivers.rigs import WHOLE_BENCH, rig_of


def xor_line(text: str) -> bytes:
    checksum = 0
    for byte in text.encode():
        checksum ^= byte
    return f"{text}*{checksum:02X}\r\n".encode()


@dataclass
class Rigged:
    wiring: BenchWiring
    drive: ModbusPeer
    scpi: ScpiPeer
    lines: SocketPeer


@pytest.fixture
def rigged() -> Iterator[Rigged]:
    scpi = ScpiPeer()
    speed = lines_every(lambda: xor_line("RPM=1800.5"), 0.02)
    with (
        SocketPeer(speed) as lines,
        SocketPeer(scpi.talk) as meter,
        ModbusPeer() as drive,
    ):
        rig = rig_of(WHOLE_BENCH, lines=lines.port, scpi=meter.port, modbus=drive.port)
        wiring = BenchWiring(rig, RealClock())
        wiring.open(5.0)
        try:
            yield Rigged(wiring, drive, scpi, lines)
        finally:
            wiring.close()


def until(condition: Callable[[], bool], wait_s: float = 5.0) -> bool:
    end_s = time.monotonic() + wait_s
    while not condition() and time.monotonic() < end_s:
        time.sleep(0.005)
    return condition()


def latest_value(rigged: Rigged, channel: str) -> float | None:
    reading = rigged.wiring.readings.latest(channel)
    return None if reading is None else reading.value


def test_every_channel_gives_its_value_in_its_own_unit_of_measure(rigged: Rigged) -> None:
    assert latest_value(rigged, "shaft_rpm") == 1800.5
    assert latest_value(rigged, "amps") == pytest.approx(125.0)
    assert latest_value(rigged, "volts") == pytest.approx(14.0)
    assert latest_value(rigged, "drive_rpm") == 0.0
    assert rigged.wiring.identities()["amps"] == "INVENTED,METER 1,0042,1.0"
    assert "CONF:VOLT:DC 0.1" in rigged.scpi.commands


def test_the_drive_takes_shaft_speeds_and_gives_motor_speeds(rigged: Rigged) -> None:
    drive = rigged.wiring.drive
    assert drive is not None
    drive.set_shaft_rpm(4500.0).wait(2.0)
    drive.run().wait(2.0)
    assert drive.running()
    # 4500 rpm at the shaft are 1500 at the motor behind 180:60 mm: 50.00 Hz at 30 rpm per Hz.
    assert [words for _, register, words in rigged.drive.written if register == 1] == [[5000]]
    assert until(lambda: latest_value(rigged, "drive_rpm") == 1500.0)
    drive.halt(2.0)
    assert not drive.running()
    after = [(register, words) for _, register, words in rigged.drive.written][-2:]
    assert after == [(0, [0]), (1, [0])]


def test_the_drives_own_timeout_is_set_once_and_read_back(rigged: Rigged) -> None:
    assert [words for _, register, words in rigged.drive.written if register == 20] == [[20]]


def test_a_drive_at_rest_is_not_found_running(rigged: Rigged) -> None:
    assert rigged.wiring.drive is not None
    assert rigged.wiring.drive.found_running is False


def test_a_speed_above_the_limit_is_never_sent(rigged: Rigged) -> None:
    assert rigged.wiring.drive is not None
    pending = rigged.wiring.drive.set_shaft_rpm(12_001.0)
    assert pending.done
    with pytest.raises(CommandRefused, match="above the rig's limit"):
        pending.wait(1.0)
    assert not [register for _, register, _ in rigged.drive.written if register == 1]


def test_the_load_gets_its_mode_once_then_voltages_and_switch(rigged: Rigged) -> None:
    load = rigged.wiring.load
    assert load is not None
    load.hold_volts(13.5).wait(2.0)
    load.hold_volts(14.2).wait(2.0)
    load.on().wait(2.0)
    load.off_now(2.0)
    told = [text for text in rigged.scpi.commands if not text.startswith(("*", "CONF"))]
    assert told == ["MODE:VOLT", "VOLT 13.50", "VOLT 14.20", "INP ON", "INP OFF"]
    with pytest.raises(CommandRefused, match="outside 0 to 16 V"):
        load.hold_volts(17.0).wait(1.0)


def test_an_entry_in_the_error_queue_refuses_a_command(rigged: Rigged) -> None:
    assert rigged.wiring.load is not None
    rigged.scpi.errors.append('-222,"Data out of range"')
    with pytest.raises(CommandRefused, match="-222 Data out of range"):
        rigged.wiring.load.hold_volts(13.5).wait(2.0)


def test_a_typed_reading_joins_the_others(rigged: Rigged) -> None:
    rigged.wiring.type_reading("case_c", 64.0)
    assert latest_value(rigged, "case_c") == 64.0
    with pytest.raises(CommandRefused, match="not typed"):
        rigged.wiring.type_reading("amps", 1.0)


def test_an_unplugged_instrument_is_lost_at_once_and_comes_back(rigged: Rigged) -> None:
    rigged.lines.unplug()
    readings = rigged.wiring.readings
    qualities: list[Quality] = []

    def lost_and_back() -> bool:
        qualities.extend(
            each.quality for each in readings.take(0.01) if each.channel == "shaft_rpm"
        )
        lost = Quality.LINK_LOST in qualities
        return lost and qualities[-1] is Quality.OK

    assert until(lost_and_back)


def test_everything_that_cannot_be_opened_is_named_at_once() -> None:
    rig = rig_of(WHOLE_BENCH, lines=1, scpi=2, modbus=3)
    with pytest.raises(CannotOpen) as caught:
        BenchWiring(rig, RealClock()).open(0.5)
    assert [failure.instrument for failure in caught.value.failures] == [
        "shaft_rpm",
        "amps, volts, load",
        "drive",
    ]
    text = str(caught.value)
    assert all(f"127.0.0.1 port {port}" in text for port in (1, 2, 3))
    assert "Check that the instrument or its server is on" in text
