"""The bytes on a wire, as somebody looking for a fault wants to see them."""

from __future__ import annotations

from drivers.traffic import KEPT, LONGEST, Passed, Traffic


def test_an_answer_that_comes_in_pieces_is_shown_whole_and_the_next_line_apart() -> None:
    wire = Traffic()
    wire.sent(1.0, b"MEAS?\n")
    for piece in (b"12", b".5", b"\r\n"):
        wire.came(1.1, piece)
    wire.came(2.0, b"13.1\r\n")
    assert wire.last() == [
        Passed(1.0, True, b"MEAS?\n"),
        Passed(1.1, False, b"12.5\r\n"),
        Passed(2.0, False, b"13.1\r\n"),
    ]


def test_a_babbling_instrument_fills_neither_memory_nor_screen() -> None:
    wire = Traffic()
    for number in range(10 * KEPT):
        wire.came(float(number), b"x" * 5 * LONGEST)
    assert len(wire.last()) == KEPT
    assert all(len(one.data) <= LONGEST for one in wire.last())
