"""NMEA 0183 sentences as published."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.errors import Unreadable
from drivers.line_pattern import xor_of
from drivers.nmea_sentence import field_value, read_sentence

PUBLISHED = b"$IIRPM,E,1,2418.2,10.5,A*5F"
"""In the test files of two unrelated public NMEA libraries."""


def rpm(line: bytes, **where: str) -> float | None:
    conditions = {int(number[1:]): text for number, text in where.items()}
    return field_value(read_sentence(line), kind="RPM", field=3, where=conditions)


def sentence(body: str) -> bytes:
    return b"$%s*%02X" % (body.encode(), xor_of(body.encode()))


def test_a_published_sentence_gives_its_speed() -> None:
    assert rpm(PUBLISHED) == 2418.2
    assert rpm(b"$IIRPM,E,1,0,,A*66") == 0.0  # the pitch may be empty


def test_a_published_sentence_with_a_misprinted_checksum_is_refused() -> None:
    # Printed so in a voyage data recorder's manual (Rutter VDR-100G3, p. 307); right is *59.
    body = b"$ERXDR,T,78.0,R,MC042,T,78.1,R,MC043"
    with pytest.raises(Unreadable, match="checksum"):
        read_sentence(body + b"*58")
    found = read_sentence(body + b"*59")
    for name, value in (("MC042", 78.0), ("MC043", 78.1)):
        assert field_value(found, kind="XDR", field=2, where={4: name}) == value


def test_other_engines_and_sentences_are_passed_over() -> None:
    assert rpm(PUBLISHED, f1="E", f2="1") == 2418.2
    assert rpm(PUBLISHED, f2="2") is None
    assert rpm(PUBLISHED, f1="S") is None
    assert rpm(sentence("IIHDT,12.0,T")) is None
    assert field_value(read_sentence(PUBLISHED), kind="RPM", field=3, talker="ER") is None


@pytest.mark.parametrize(
    ("body", "why"),
    [
        ("IIRPM,E,1,2418.2,10.5,V", "not valid"),
        ("IIRPM,E,1,,10.5,A", "field 3"),
        ("IIRPM,E,1", "not valid"),
        ("IIRPM,E,1,1_0,,A", "field 3"),
    ],
)
def test_what_the_sender_marks_or_leaves_out_is_no_speed(body: str, why: str) -> None:
    with pytest.raises(Unreadable, match=why):
        rpm(sentence(body))


def test_a_sentence_without_checksum_is_refused() -> None:
    with pytest.raises(Unreadable, match="checksum"):
        read_sentence(PUBLISHED[:-3])


@given(st.integers(0, len(PUBLISHED) - 1), st.integers(1, 255))
def test_no_single_changed_byte_gives_another_speed(place: int, change: int) -> None:
    damaged = bytearray(PUBLISHED)
    damaged[place] ^= change
    try:
        value = rpm(bytes(damaged))
    except Unreadable:
        return
    assert value in (None, 2418.2)  # a small letter in the checksum changes nothing


@given(st.binary(max_size=100))
def test_any_bytes_give_a_sentence_or_our_error(line: bytes) -> None:
    try:
        found = read_sentence(line)
    except Unreadable:
        return
    assert len(found.kind) == 3


@given(st.text("ABCXRPMD0123456789.,-", max_size=60))
def test_any_fields_give_a_number_or_nothing_or_our_error(text: str) -> None:
    for kind in ("RPM", "XDR"):
        try:
            value = field_value(
                read_sentence(sentence(f"II{kind},{text}")), kind=kind, field=2, where={4: "A"}
            )
        except Unreadable:
            continue
        assert value is None or value == float(value)
