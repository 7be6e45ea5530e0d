"""Faults of a wire, message by message, on a hand-moved time."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from drivers.simulated.servers.wire_faults import WireFaults

MESSAGES = st.lists(st.binary(min_size=1, max_size=30), max_size=20)


@given(MESSAGES)
def test_a_sound_wire_changes_nothing(messages: list[bytes]) -> None:
    wire = WireFaults()
    for message in messages:
        wire.put(message, 1.0)
    assert wire.due(1.0) == b"".join(messages)
    assert wire.due(9.0) == b""


@given(MESSAGES, st.floats(min_value=0.01, max_value=5.0))
def test_late_messages_come_whole_in_order_and_not_before_their_time(
    messages: list[bytes], late_s: float
) -> None:
    wire = WireFaults(late_s=late_s)
    for n, message in enumerate(messages):
        wire.put(message, float(n))
    assert wire.due(late_s * 0.999) == b""
    for n, message in enumerate(messages):
        assert wire.due(n + late_s * 1.001) == message
        assert wire.due(n + late_s * 1.001) == b""


def test_only_as_many_messages_are_late_as_were_asked_for() -> None:
    wire = WireFaults(late_s=3.0, late_messages=1)
    wire.put(b"first", 0.0)
    wire.put(b"second", 0.0)
    assert wire.due(0.0) == b"second"
    assert wire.due(3.0) == b"first"


@given(MESSAGES)
def test_halves_lose_nothing(messages: list[bytes]) -> None:
    wire = WireFaults(halves_s=0.5)
    came = b""
    for n, message in enumerate(messages):
        wire.put(message, float(n))
        first = wire.due(float(n))
        assert len(first) < len(message) or len(message) == 1
        came += first + wire.due(n + 0.5)
    assert came == b"".join(messages)


def test_a_cut_message_is_its_beginning() -> None:
    wire = WireFaults(cut_share=1.0)
    for _ in range(50):
        wire.put(b"RPM=1500.2*4B\r\n", 0.0)
        came = wire.due(0.0)
        assert b"RPM=1500.2*4B\r\n".startswith(came)
        assert 0 < len(came) < 15


def test_a_bad_checksum_differs_in_one_bit_of_the_last_character() -> None:
    wire = WireFaults(bad_checksum_share=1.0)
    wire.put(b"RPM=1500.2*4B\r\n", 0.0)
    assert wire.due(0.0) == b"RPM=1500.2*4C\r\n"
    wire.put(bytes.fromhex("010300040002 85CA"), 0.0)
    assert wire.due(0.0) == bytes.fromhex("010300040002 85CB")


def test_garbage_comes_in_its_share_and_the_same_for_the_same_seed() -> None:
    def spoilt(seed: str) -> list[bytes]:
        wire = WireFaults(seed=seed, garbage_share=0.3)
        came = []
        for _ in range(400):
            wire.put(b"CASE=61.2*07\r\n", 0.0)
            came.append(wire.due(0.0))
        return came

    bad = [one for one in spoilt("a") if one != b"CASE=61.2*07\r\n"]
    assert 80 < len(bad) < 160
    assert spoilt("a") == spoilt("a")
    assert spoilt("a") != spoilt("b")


def test_a_silent_or_pulled_wire_carries_nothing_and_forgets() -> None:
    wire = WireFaults(late_s=1.0)
    wire.put(b"on its way", 0.0)
    wire.forget()
    wire.silent = True
    wire.put(b"unheard", 0.0)
    wire.silent, wire.out = False, True
    wire.put(b"unplugged", 0.0)
    wire.out = False
    assert wire.due(9.0) == b""
    wire.put(b"again", 9.0)
    assert wire.due(10.0) == b"again"


def test_a_repeated_value_is_the_first_one_until_it_is_mended() -> None:
    wire = WireFaults(repeated=True)
    for message in (b"1\n", b"2\n"):
        wire.put(message, 0.0)
    assert wire.due(0.0) == b"1\n1\n"
    wire.repeated = False
    wire.put(b"3\n", 0.0)
    wire.repeated = True
    wire.put(b"4\n", 0.0)
    assert wire.due(0.0) == b"3\n4\n"
