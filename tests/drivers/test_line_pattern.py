"""Lines with a value: cut, fused, damaged, or as they should be."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import Unreadable
from drivers.line_pattern import LineFramer, LinePattern, strict_number, xor_of
from drivers.modbus_frame import crc16

XOR = LinePattern(r"RPM=(?P<value>\d+\.\d)\*(?P<xor>[0-9A-F]{2})")
SUM = LinePattern(r"(?P<value>\d+\.\d);(?P<sum>[0-9A-F]{4})")
CRC = LinePattern(r"(?P<count>\d+),(?P<value>\d+\.\d)\*(?P<crc>[0-9A-F]{4})")


def with_xor(body: bytes) -> bytes:
    return body + b"*%02X" % xor_of(body)


def test_a_line_with_the_right_checksum_gives_its_value() -> None:
    assert XOR.read(with_xor(b"RPM=1800.5")).value == 1800.5
    assert SUM.read(b"12.5;%04X" % sum(b"12.5;")).value == 12.5
    found = CRC.read(b"41,12.5*%04X" % crc16(b"41,12.5"))
    assert (found.value, found.count) == (12.5, "41")


@given(st.integers(0, 99_999), st.integers(0, 30), st.integers(1, 255))
def test_no_single_changed_byte_gives_another_value(tenths: int, place: int, change: int) -> None:
    value = f"{tenths / 10:.1f}".encode()
    lines = {
        XOR: with_xor(b"RPM=" + value),
        SUM: value + b";%04X" % sum(value + b";"),
        CRC: b"7,%s*%04X" % (value, crc16(b"7," + value)),
    }
    for pattern, line in lines.items():
        damaged = bytearray(line)
        damaged[place % len(line)] ^= change
        try:
            assert pattern.read(bytes(damaged)).value == tenths / 10
        except Unreadable:
            continue


@given(st.binary(max_size=300))
def test_any_bytes_give_a_number_or_our_error(line: bytes) -> None:
    for pattern in (XOR, SUM, CRC, LinePattern(r"(?P<value>.*)")):
        try:
            assert math.isfinite(pattern.read(line).value)
        except Unreadable as error:
            assert error.raw or not line  # noqa: PT017


@pytest.mark.parametrize(
    "text", ["1_0", "nan", "inf", "infinity", "", " 1", "1 ", "٣", "1e999", "0x1"]
)
def test_what_python_takes_for_a_number_is_not_always_one(text: str) -> None:
    with pytest.raises(Unreadable):
        strict_number(text)


def test_a_line_must_match_as_a_whole() -> None:
    plain = LinePattern(r"(?P<value>\d+\.\d)")
    for line in (b"1800.5 rpm", b"x1800.5", b"1800.5\n", b"37503750.00"):
        with pytest.raises(Unreadable):
            plain.read(line)


def test_a_pattern_needs_a_value_and_must_compile() -> None:
    with pytest.raises(ValueError, match="no group named 'value'"):
        LinePattern(r"\d+")
    with pytest.raises(ValueError, match="cannot be compiled"):
        LinePattern(r"(?P<value>")


@given(st.lists(st.integers(0, 9999), min_size=2, max_size=20), st.data())
def test_pieces_of_any_size_give_the_same_lines(values: list[int], data: st.DataObject) -> None:
    stream = b"".join(b"%d\r\n" % value for value in values)
    framer = LineFramer()
    lines: list[bytes] = []
    while stream:
        size = data.draw(st.integers(1, len(stream)))
        lines += framer.feed(stream[:size])
        stream = stream[size:]
    assert lines == [b"%d" % value for value in values[1:]]  # the first may have been cut


@given(st.lists(st.binary(max_size=400), max_size=20))
def test_memory_is_bounded_whatever_comes(chunks: list[bytes]) -> None:
    framer = LineFramer(longest=64)
    for chunk in chunks:
        for line in framer.feed(chunk):
            assert 0 < len(line) <= 64
        assert len(framer._kept) <= 64


def test_a_line_without_an_end_is_counted_and_dropped_with_its_tail() -> None:
    framer = LineFramer(longest=8)
    assert framer.feed(b"\r\n" + b"9" * 20) == []
    assert framer.overruns == 1
    assert framer.feed(b"9\n12\n") == [b"12"]


def test_another_terminator_may_end_a_line() -> None:
    framer = LineFramer(b";")
    assert framer.feed(b"x;1;2\n;3") == [b"1", b"2\n"]
