"""Instruments that send a line by themselves: `RPM=1500.2*hh`, `$IIRPM,E,1,2418.2,,A*hh`."""

from __future__ import annotations

from collections.abc import Callable

from drivers.simulated.rig_model import RigModel

Sentence = Callable[[float], bytes]
"""Makes a line of a value."""


def checked_line(name: str, decimals: int = 1) -> Sentence:
    """`NAME=value*hh`: the exclusive or of what stands before the asterisk."""
    return lambda value: with_checksum(f"{name}={value:.{decimals}f}")


def plain_line(form: str) -> Sentence:
    """A line as `form` writes the value, without a checksum."""
    return lambda value: f"{form.format(value)}\r\n".encode("ascii")


def engine_sentence(value: float) -> bytes:
    """NMEA 0183 sentence RPM: engine number 1, status valid."""
    return b"$" + with_checksum(f"IIRPM,E,1,{value:.1f},,A")


def with_checksum(text: str) -> bytes:
    """The line with the exclusive or of its characters, in hexadecimal, behind an asterisk."""
    check = 0
    for byte in text.encode("ascii"):
        check ^= byte
    return f"{text}*{check:02X}\r\n".encode("ascii")


class LineTalker:
    """Sends a channel's line every `every_s` of the rig's time."""

    def __init__(
        self, model: RigModel, *, channel: str, sentence: Sentence, every_s: float
    ) -> None:
        self._model = model
        self._channel = channel
        self._sentence = sentence
        self._every_s = every_s
        self._next_s = 0.0

    def hear(self, data: bytes, now_s: float) -> list[bytes]:
        """It does not listen."""
        del data, now_s
        return []

    def speak(self, now_s: float) -> list[bytes]:
        """The line, when it is due; missed ones are not caught up."""
        if now_s < self._next_s:
            return []
        self._next_s += self._every_s
        if self._next_s <= now_s:
            self._next_s = now_s + self._every_s
        return [self._sentence(self._model.sense(self._channel))]
