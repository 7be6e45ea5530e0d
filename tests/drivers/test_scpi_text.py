"""Numbers and error queues as instruments write them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import OutOfRange, Unreadable
from drivers.scpi_text import is_token, queued_error, scpi_number


@pytest.mark.parametrize(
    ("answer", "value"),
    [
        (b"12", 12.0),  # NR1, NR2 and NR3 of IEEE 488.2
        (b"+12.5", 12.5),
        (b"-1.25E-02", -0.0125),
        (b"+1.40000000E+01", 14.0),
        (b".5", 0.5),
        (b"13.500V", 13.5),  # a load that appends the unit (Aim-TTi LD400 manual, p. 47)
        (b"13.5 V", 13.5),
        (b" 0.0 ", 0.0),
    ],
)
def test_numbers_are_read_as_instruments_write_them(answer: bytes, value: float) -> None:
    assert scpi_number(answer) == value


def test_one_of_several_numbers_is_taken_by_its_place() -> None:
    assert scpi_number(b"1.5,2.5,3.5", 1) == 2.5
    with pytest.raises(Unreadable, match="3 parts"):
        scpi_number(b"1.5,2.5,3.5", 3)


@pytest.mark.parametrize("answer", [b"13.5mV", b"13.5 MV", b"0.2 kA", b"64 F"])
def test_a_unit_of_measure_that_changes_the_number_is_refused(answer: bytes) -> None:
    with pytest.raises(Unreadable):
        scpi_number(answer)


def test_a_decimal_comma_is_not_taken_for_a_whole_number() -> None:
    with pytest.raises(Unreadable, match="2 parts"):
        scpi_number(b"13,5")


@pytest.mark.parametrize("answer", [b"9.9E37", b"+9.90000000E+37", b"-9.9E37", b"9.9E+37", b"1E38"])
def test_the_sign_of_overload_is_never_a_number(answer: bytes) -> None:
    # Infinity is 9.9E37 and -9.9E37 (R&S NGE100 manual, p. 73); a load answers 9.9E+37 in place
    # of a reading that is out of range (Agilent 6051A manual, p. 52).
    with pytest.raises(OutOfRange):
        scpi_number(answer)


@pytest.mark.parametrize("answer", [b"9.91E37", b"+9.91000000E+37", b"-9.91E37"])
def test_the_sign_of_no_number_is_no_number_and_no_overload(answer: bytes) -> None:
    # Not a number is 9.91E37 (HP 53131A manual, p. 85).
    with pytest.raises(Unreadable) as caught:
        scpi_number(answer)
    assert not isinstance(caught.value, OutOfRange)


@pytest.mark.parametrize(
    "answer",
    [b"", b"nan", b"inf", b"1_0", b"1.5.2", b"0x10", b"1,5x", b"\xb2", b"--1", b"1E9999", b"7x"],
)
def test_what_is_no_number_is_refused(answer: bytes) -> None:
    with pytest.raises(Unreadable):
        scpi_number(answer)


@given(st.binary(max_size=40))
def test_any_bytes_give_a_finite_number_or_our_error(answer: bytes) -> None:
    try:
        value = scpi_number(answer)
    except Unreadable as error:
        assert error.raw or not answer  # noqa: PT017
    else:
        assert math.isfinite(value)
        assert abs(value) < 9.9e37


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-9e37, max_value=9e37))
def test_every_float_is_read_back(value: float) -> None:
    assert scpi_number(f"{value:.17e}".encode()) == value


@pytest.mark.parametrize(
    ("answer", "number", "words"),
    [
        (b'0,"No error"', 0, "No error"),
        (b"0,No error", 0, "No error"),  # quoting differs by maker
        (b'+0,"No error"', 0, "No error"),
        (b'-113,"Undefined header"', -113, "Undefined header"),
        (b'-222,"Data out of range;VOLT 99"', -222, "Data out of range;VOLT 99"),
        (b"0", 0, ""),
    ],
)
def test_the_error_queue_is_read_by_its_number(answer: bytes, number: int, words: str) -> None:
    entry = queued_error(answer)
    assert (entry.number, entry.words) == (number, words)


@given(st.binary(max_size=40))
def test_any_bytes_are_an_entry_of_the_queue_or_our_error(answer: bytes) -> None:
    try:
        entry = queued_error(answer)
    except Unreadable:
        return
    assert isinstance(entry.number, int)


def test_a_token_is_that_whole_number_and_nothing_else() -> None:
    assert is_token(b"137", 137)
    assert is_token(b"+137", 137)
    assert is_token(b" 137 ", 137)
    for other in (b"13", b"1371", b"137.0", b"1.37E2", b"137,1", b"", b"-137"):
        assert not is_token(other, 137)
