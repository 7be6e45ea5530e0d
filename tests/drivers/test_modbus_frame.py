"""Modbus frames and values against frames printed in manuals, and against pymodbus."""

from __future__ import annotations

import math
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymodbus.client.mixin import ModbusClientMixin
from pymodbus.framer import FramerRTU

from drivers.errors import Unreadable
from drivers.modbus_frame import (
    crc16,
    cut_tcp,
    exception_words,
    expected,
    find_rtu,
    read_request,
    rtu_frame,
    silence_s,
    tcp_frame,
    value_of,
    words_in,
    words_of,
    write_request,
)

PRINTED = {
    # A frequency converter's manual, example of a read (INVT, communication manual).
    "01 03 00 04 00 02 85 CA": "read of two registers",
    # An LCR meter's manual, page 105 (Applent AT381x): answer to a read; read; answer to FC 16.
    "01 03 02 00 01 79 84": "answer with one register",
    "01 03 30 03 00 01 7B 0A": "read of one register",
    "01 10 30 03 00 01 FE C9": "answer to a write of registers",
    # A temperature controller's manual, page 57 (RKC MA900): function 08 and its refusal.
    "01 08 00 00 1F 34 E9 EC": "return query data",
    "01 88 03 06 01": "exception of function 08",
}


@pytest.mark.parametrize("frame", PRINTED, ids=list(PRINTED.values()))
def test_printed_frames_have_our_crc(frame: str) -> None:
    data = bytes.fromhex(frame)
    assert rtu_frame(data[0], data[1:-2]) == data


def test_the_crc_has_the_published_check_value() -> None:
    # https://vayce.app/tools/checksum-calculator/crc-16-modbus/
    assert crc16(b"123456789") == 0x4B37


@given(st.binary(max_size=60))
def test_the_crc_is_that_of_pymodbus(data: bytes) -> None:
    assert struct.pack(">H", FramerRTU.compute_CRC(data)) == struct.pack("<H", crc16(data))


def test_the_silence_between_frames_follows_the_baud_rate() -> None:
    # MODBUS over Serial Line V1.02: 3.5 characters of 11 bits; fixed 1.75 ms above 19200 Bd.
    assert silence_s(9600) == pytest.approx(0.00401, abs=1e-5)
    assert silence_s(19_200) == pytest.approx(0.00200, abs=1e-5)
    assert silence_s(115_200) == 0.00175


@pytest.mark.parametrize(
    ("order", "words"),
    [
        # 123.45 in the four orders, https://modbus.maxenergic.com/modbus-float32-byte-order.html
        ("ABCD", (0x42F6, 0xE666)),
        ("CDAB", (0xE666, 0x42F6)),
        ("BADC", (0xF642, 0x66E6)),
        ("DCBA", (0x66E6, 0xF642)),
    ],
)
def test_a_float_is_read_and_written_in_all_four_orders(order: str, words: tuple[int, int]) -> None:
    assert value_of(words, "f32", order) == pytest.approx(123.45, abs=5e-6)
    assert words_of(123.45, "f32", order) == words


TYPES = ModbusClientMixin.DATATYPE
NAMES = {
    "u16": TYPES.UINT16,
    "s16": TYPES.INT16,
    "u32": TYPES.UINT32,
    "s32": TYPES.INT32,
    "f32": TYPES.FLOAT32,
}


@given(st.sampled_from(sorted(NAMES)), st.integers(-(2**31), 2**32 - 1))
def test_values_are_those_of_pymodbus(name: str, value: int) -> None:
    low, high = {
        "u16": (0, 65535),
        "s16": (-32768, 32767),
        "u32": (0, 2**32 - 1),
        "s32": (-(2**31), 2**31 - 1),
        "f32": (-(2**24), 2**24),
    }[name]
    if not low <= value <= high:
        with pytest.raises(ValueError, match="does not fit") if name != "f32" else _nothing():
            words_of(value, name)
        return
    theirs = ModbusClientMixin.convert_to_registers(
        float(value) if name == "f32" else value, NAMES[name]
    )
    assert list(words_of(value, name)) == theirs
    assert value_of(tuple(theirs), name) == value


class _nothing:  # noqa: N801
    def __enter__(self) -> None: ...
    def __exit__(self, *_: object) -> None: ...


def test_not_a_number_in_registers_is_no_value() -> None:
    for words in ((0x7FC0, 0), (0x7F80, 0), (0xFF80, 0)):
        with pytest.raises(Unreadable, match="not a number"):
            value_of(words, "f32")


@pytest.mark.parametrize("value", [math.nan, math.inf, 1e39])
def test_what_no_register_holds_cannot_be_written(value: float) -> None:
    for value_type in ("u16", "s32"):
        with pytest.raises(ValueError, match="does not fit"):
            words_of(value, value_type)


def test_requests_are_laid_out_as_the_protocol_says() -> None:
    # The examples of the MODBUS Application Protocol specification (from memory).
    assert read_request(3, 0x006B, 3) == bytes.fromhex("03 00 6B 00 03")
    assert write_request(0x0001, (3,)) == bytes.fromhex("06 00 01 00 03")
    assert write_request(0x0001, (0x000A, 0x0102)) == bytes.fromhex("10 00 01 00 02 04 00 0A 01 02")
    assert words_in(bytes.fromhex("03 06 02 2B 00 00 00 64")) == (0x022B, 0, 0x64)


def test_exceptions_are_said_in_words() -> None:
    assert exception_words(2) == "it has no such register"
    assert exception_words(99) == "it gives exception 99"


READ_TWO = expected(1, read_request(3, 0, 2))
ANSWER = rtu_frame(1, bytes.fromhex("03 04 42 F6 E6 66"))


@given(st.binary(max_size=30), st.binary(max_size=30))
def test_an_answer_is_found_behind_any_noise(before: bytes, after: bytes) -> None:
    found = find_rtu(before + ANSWER + after, READ_TWO)
    assert found is not None
    if found.before == len(before):
        assert found.pdu == ANSWER[1:-2]


@given(st.integers(0, len(ANSWER) - 1), st.integers(1, 255))
def test_no_single_changed_byte_passes_the_crc(place: int, change: int) -> None:
    damaged = bytearray(ANSWER)
    damaged[place] ^= change
    assert find_rtu(bytes(damaged), READ_TWO) is None


@given(st.binary(max_size=300))
def test_any_bytes_give_a_frame_or_nothing(noise: bytes) -> None:
    found = find_rtu(noise, READ_TWO)
    assert found is None or READ_TWO.fits(1, found.pdu)
    try:
        frame = cut_tcp(noise)
    except Unreadable:
        return
    assert frame is None or frame[1] <= len(noise)


def test_an_answer_to_another_question_does_not_fit() -> None:
    others = [
        rtu_frame(2, bytes.fromhex("03 04 42 F6 E6 66")),  # another device
        rtu_frame(1, bytes.fromhex("04 04 42 F6 E6 66")),  # another function
        rtu_frame(1, bytes.fromhex("03 02 42 F6")),  # another count
    ]
    assert find_rtu(b"".join(others), READ_TWO) is None
    echo = expected(1, write_request(1, (5000,)))
    assert find_rtu(rtu_frame(1, write_request(1, (4999,))), echo) is None


@given(st.integers(0, 65535), st.integers(0, 255), st.binary(min_size=1, max_size=200))
def test_tcp_frames_are_cut_as_they_were_made(number: int, device: int, pdu: bytes) -> None:
    frame = tcp_frame(number, device, pdu)
    assert cut_tcp(frame[:-1]) is None
    cut = cut_tcp(frame + b"next")
    assert cut is not None
    assert (cut[0].transaction, cut[0].device, cut[0].pdu) == (number, device, pdu)
    assert cut[1] == len(frame)
