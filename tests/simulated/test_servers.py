"""The instruments' own language, byte by byte, without a wire."""

from __future__ import annotations

import struct
from functools import reduce

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.simulated.rig_model import RigModel
from drivers.simulated.servers.line_server import (
    LineTalker,
    checked_line,
    engine_sentence,
    plain_line,
)
from drivers.simulated.servers.modbus_devices import devices_of
from drivers.simulated.servers.modbus_server import RtuModbus, TcpModbus, crc16
from drivers.simulated.servers.scpi_server import (
    ERRORS_KEPT,
    FieldSupply,
    HoldingLoad,
    Multimeter,
    ScpiInstrument,
)


def ask(instrument: ScpiInstrument, text: str) -> str:
    answers = instrument.hear(text.encode() + b"\n", 0.0)
    return b"".join(answers).decode().rstrip("\n")


# ---- lines ---------------------------------------------------------------------------------


def test_a_line_carries_the_exclusive_or_of_what_stands_before_the_asterisk() -> None:
    line = checked_line("RPM")(1500.23)
    text, check = line.decode().rstrip("\r\n").split("*")
    assert text == "RPM=1500.2"
    assert int(check, 16) == reduce(lambda a, b: a ^ b, text.encode())


def test_the_engine_sentence_has_the_checksum_of_a_published_one() -> None:
    # $IIRPM,E,1,2418.2,10.5,A*5F is printed in public test files of NMEA 0183 readers; leaving the
    # pitch empty takes the characters 1 0 . 5 out of the exclusive or
    check = 0x5F ^ ord("1") ^ ord("0") ^ ord(".") ^ ord("5")
    assert engine_sentence(2418.2) == f"$IIRPM,E,1,2418.2,,A*{check:02X}\r\n".encode()
    assert engine_sentence(0.0) == b"$IIRPM,E,1,0.0,,A*" + engine_sentence(0.0)[-4:]


def test_plain_lines_are_written_as_their_meters_write_them() -> None:
    assert plain_line("{:+06.1f} A")(89.7) == b"+089.7 A\r\n"
    assert plain_line("{:.2f} Nm")(6.345) in (b"6.34 Nm\r\n", b"6.35 Nm\r\n")


def test_a_talker_keeps_its_rate_and_catches_nothing_up() -> None:
    talker = LineTalker(RigModel(), channel="case_c", sentence=checked_line("CASE"), every_s=0.1)
    lines = [n for n in range(1000) if talker.speak(n / 1000.0)]
    assert len(lines) == pytest.approx(10, abs=1)
    assert len(talker.speak(60.0)) == 1
    assert talker.speak(60.05) == []
    assert talker.hear(b"anything", 60.0) == []


# ---- SCPI ----------------------------------------------------------------------------------


def test_the_meter_on_the_shunt_answers_in_volts() -> None:
    rig = RigModel(fault="clamp-zero-off")
    meter = Multimeter(rig, channel="amps", scale=5000.0)
    assert float(ask(meter, "MEAS:VOLT:DC?")) * 5000.0 == pytest.approx(2.5, abs=0.4)
    assert ask(meter, "*IDN?").count(",") == 3


def test_common_commands_answer_as_the_standard_has_it() -> None:
    meter = Multimeter(RigModel(), channel="volts")
    assert ask(meter, "*ESE 37;*ESE?") == "37"
    assert ask(meter, "*OPC?") == "1"
    assert ask(meter, "*IDN?;*ESE?").endswith(";37")
    assert ask(meter, ":MEAS:VOLT:DC?") != ""
    assert ask(meter, "conf:volt:dc 100") == ""
    assert ask(meter, "SYST:ERR?") == '0,"No error"'


def test_errors_queue_up_first_in_first_out_and_overflow_in_the_last_place() -> None:
    load = HoldingLoad(RigModel())
    ask(load, "FOO")
    ask(load, "VOLT x")
    ask(load, "VOLT 500")
    assert [ask(load, "SYST:ERR?").split(",")[0] for _ in range(4)] == ["-113", "-104", "-222", "0"]
    for _ in range(ERRORS_KEPT + 5):
        ask(load, "FOO")
    numbers = [ask(load, "SYST:ERR?").split(",")[0] for _ in range(ERRORS_KEPT + 1)]
    assert numbers == ["-113"] * (ERRORS_KEPT - 1) + ["-350", "0"]
    ask(load, "FOO")
    ask(load, "*RST")
    assert ask(load, "SYST:ERR?").startswith("-113"), "*RST leaves the queue alone"
    ask(load, "FOO;*CLS")
    assert ask(load, "SYST:ERR?").startswith("0,")


def test_the_load_holds_what_it_is_told_only_in_voltage_mode() -> None:
    rig = RigModel()
    load = HoldingLoad(rig)
    ask(load, "VOLT 13.50")
    ask(load, "INP ON")
    assert not rig.bus.hold_on
    ask(load, "MODE:VOLT")
    assert ask(load, "INP?") == "0", "a change of mode opens the input"
    ask(load, "INP ON")
    assert (rig.bus.hold_on, rig.bus.hold_volts) == (True, 13.5)
    assert ask(load, "VOLT?;INP?;MODE?") == "13.500;1;VOLT"
    ask(load, "MODE:VOLT")
    assert rig.bus.hold_on, "the mode it has is no change"
    ask(load, "INP 0")
    assert not rig.bus.hold_on
    ask(load, "INP MAYBE")
    assert ask(load, "SYST:ERR?").startswith("-104")


def test_the_field_supply_feeds_the_field() -> None:
    rig = RigModel(field_from_bench=True)
    supply = FieldSupply(rig)
    ask(supply, "OUTP OFF")
    rig.advance(1.0)
    assert rig.truth("field_amps") == 0.0
    ask(supply, "OUTP ON")
    rig.advance(2.0)
    assert rig.truth("field_amps") > 3.0
    assert ask(supply, "OUTP?") == "1"
    ask(supply, "OUTP UP;XYZ")
    assert [ask(supply, "SYST:ERR?").split(",")[0] for _ in range(2)] == ["-104", "-113"]


@given(st.lists(st.binary(max_size=40), max_size=10))
def test_no_bytes_break_the_meter(pieces: list[bytes]) -> None:
    meter = Multimeter(RigModel(), channel="volts")
    for piece in pieces:
        meter.hear(piece, 0.0)
    assert ask(meter, "\n*ESE 9;*ESE?").endswith("9")


# ---- Modbus --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "frame",
    [
        # printed in manuals of drives and meters: reading two registers (an inverter's handbook),
        # reading one and writing several (an impedance meter's), return query data (a level
        # meter's); the check value of "123456789" is 4B37 (CRC catalogues)
        "01 03 00 04 00 02 85 CA",
        "01 03 02 00 01 79 84",
        "01 03 30 03 00 01 7B 0A",
        "01 10 30 03 00 01 FE C9",
        "01 08 00 00 1F 34 E9 EC",
        "01 88 03 06 01",
        "31 32 33 34 35 36 37 38 39 37 4B",
    ],
)
def test_the_crc_is_that_of_printed_frames(frame: str) -> None:
    data = bytes.fromhex(frame)
    assert crc16(data[:-2]) == data[-2:]


def rtu(body: str) -> bytes:
    data = bytes.fromhex(body)
    return data + crc16(data)


def bus(rig: RigModel) -> RtuModbus:
    return RtuModbus(devices_of(rig))


def test_a_printed_query_comes_back_byte_for_byte() -> None:
    frame = bytes.fromhex("01 08 00 00 1F 34 E9 EC")
    assert bus(RigModel()).hear(frame, 0.0) == [frame]


def test_the_drive_is_written_and_read_back_over_the_bus() -> None:
    rig = RigModel()
    line = bus(rig)
    assert line.hear(rtu("01 06 00 01 13 88"), 0.0) == [rtu("01 06 00 01 13 88")]
    assert rig.motor.set_rpm == pytest.approx(50.00 * 30.0)
    assert line.hear(rtu("01 10 00 00 00 02 04 00 01 0F A0"), 0.0) == [rtu("01 10 00 00 00 02")]
    assert rig.motor.run
    assert rig.motor.set_rpm == pytest.approx(40.00 * 30.0)
    assert line.hear(rtu("01 03 00 00 00 02"), 0.0) == [rtu("01 03 04 00 01 0F A0")]
    rig.advance(10.0)
    assert line.hear(rtu("01 04 00 0A 00 01"), 0.0) == [rtu("01 04 02 0F A0")]
    line.hear(rtu("01 06 00 14 00 14"), 0.0)
    assert rig.motor.comm_timeout_s == 2.0


@pytest.mark.parametrize(
    ("request_", "answer"),
    [
        ("01 03 00 63 00 01", "01 83 02"),  # a register that is not there
        ("01 06 00 0A 00 01", "01 86 02"),  # the output cannot be written
        ("01 06 00 00 00 07", "01 86 03"),  # neither run nor stop
        ("01 06 00 01 FF FF", "01 86 03"),  # faster than the drive goes
        ("01 03 00 00 00 00", "01 83 03"),  # no registers at all
        ("01 03 00 00 00 7E", "01 83 03"),  # more than the standard allows
        ("01 01 00 00 00 01", "01 81 01"),  # a function it does not know
        ("01 08 00 01 00 00", "01 88 01"),
        ("01 10 00 00 00 02 02 00 01", "01 90 03"),  # byte count and registers disagree
    ],
)
def test_what_cannot_be_done_is_answered_with_an_exception(request_: str, answer: str) -> None:
    rig = RigModel()
    assert bus(rig).hear(rtu(request_), 0.0) == [rtu(answer)]
    assert not rig.motor.run


def test_a_write_over_several_registers_is_done_whole_or_not_at_all() -> None:
    rig = RigModel()
    assert bus(rig).hear(rtu("01 10 00 01 00 02 04 0F A0 00 01"), 0.0) == [rtu("01 90 02")]
    assert rig.motor.set_rpm == 0.0


def test_several_devices_share_the_line_and_strangers_keep_silent() -> None:
    rig = RigModel(fault="clamp-zero-off")
    line = bus(rig)
    line.hear(rtu("02 06 00 00 00 05"), 0.0)
    assert rig.bus.bank_steps[:4] == (True, False, True, False)
    assert line.hear(rtu("02 03 00 00 00 01"), 0.0) == [rtu("02 03 02 00 05")]
    (answer,) = line.hear(rtu("03 04 00 00 00 01"), 0.0)
    assert struct.unpack(">h", answer[3:5])[0] / 10.0 == pytest.approx(25.0, abs=1.5)
    (answer,) = line.hear(rtu("04 04 00 00 00 02"), 0.0)
    assert struct.unpack(">f", answer[3:7])[0] == pytest.approx(2.5, abs=0.4)
    assert line.hear(rtu("09 03 00 00 00 01"), 0.0) == []


def test_a_temperature_below_nought_is_a_signed_word() -> None:
    rig = RigModel(ambient_c=-12.0)
    (answer,) = bus(rig).hear(rtu("03 04 00 00 00 01"), 0.0)
    assert struct.unpack(">h", answer[3:5])[0] / 10.0 == pytest.approx(-12.0, abs=1.5)


@given(st.binary(max_size=7), st.lists(st.integers(1, 7), max_size=6))
def test_the_bus_finds_a_frame_behind_junk_and_in_pieces(junk: bytes, cuts: list[int]) -> None:
    line = RtuModbus(devices_of(RigModel()), wall_s=lambda: 0.0)
    frame = bytes.fromhex("01 08 00 00 1F 34 E9 EC")
    held = junk + frame * 3  # a junk length byte may swallow what follows; the last one counts
    answers: list[bytes] = []
    for cut in cuts:
        piece, held = held[:cut], held[cut:]
        answers += line.hear(piece, 0.0)
    answers += line.hear(held, 0.0)
    for _ in range(40):
        answers += line.hear(frame, 0.0)
    assert answers
    assert set(answers) == {frame}


def test_a_frame_that_was_broken_off_is_forgotten() -> None:
    wall = [0.0]
    line = RtuModbus(devices_of(RigModel()), wall_s=lambda: wall[0])
    frame = bytes.fromhex("01 08 00 00 1F 34 E9 EC")
    assert line.hear(b"\x01\x10\x00\x00\x00\x02\xff", 0.0) == []
    wall[0] = 1.0
    assert line.hear(frame, 0.0) == [frame]


def test_a_bad_crc_is_not_answered() -> None:
    assert bus(RigModel()).hear(bytes.fromhex("01 08 00 00 1F 34 E9 ED"), 0.0) == []


def test_over_tcp_the_answer_carries_the_transaction_of_its_question() -> None:
    line = TcpModbus(devices_of(RigModel()))
    question = bytes.fromhex("AB CD 00 00 00 06 01 03 00 00 00 02")
    assert line.hear(question[:5], 0.0) == []
    assert line.hear(question[5:], 0.0) == [bytes.fromhex("AB CD 00 00 00 07 01 03 04 00 00 00 00")]
    stranger = bytes.fromhex("00 01 00 00 00 06 63 03 00 00 00 02")
    assert line.hear(stranger, 0.0) == [bytes.fromhex("00 01 00 00 00 03 63 83 0B")]
    assert line.hear(b"GET / HTTP/1.0\r\n", 0.0) == []
    assert line.hear(question, 0.0) != []


def test_each_message_to_the_drive_and_none_to_others_keeps_it_running() -> None:
    rig = RigModel()
    line = bus(rig)
    line.hear(rtu("01 06 00 14 00 0A"), 0.0)
    line.hear(rtu("01 10 00 00 00 02 04 00 01 0F A0"), 0.0)
    rig.advance(0.9)
    line.hear(rtu("01 03 00 00 00 01"), 0.0)
    rig.advance(1.8)
    assert rig.motor.run
    line.hear(rtu("02 03 00 00 00 01"), 0.0)
    rig.advance(2.0)
    assert not rig.motor.run
