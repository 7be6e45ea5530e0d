"""Instruments that send a line by themselves: `RPM=1500.2*hh`, `CASE=61.2*hh`."""

from __future__ import annotations

from drivers.simulated.servers.answering import SharedRig


def with_checksum(text: str) -> bytes:
    """The line with the exclusive or of its characters, in hexadecimal, behind an asterisk."""
    check = 0
    for byte in text.encode("ascii"):
        check ^= byte
    return f"{text}*{check:02X}\r\n".encode("ascii")


class LineTalker:
    """Sends `NAME=value*hh` every `every_s` of the rig's time."""

    def __init__(
        self, rig: SharedRig, *, channel: str, name: str, every_s: float, decimals: int = 1
    ) -> None:
        self._rig = rig
        self._channel = channel
        self._name = name
        self._every_s = every_s
        self._decimals = decimals
        self._next_s = 0.0

    def hear(self, data: bytes) -> list[bytes]:
        """It does not listen."""
        return []

    def speak(self, now_s: float) -> list[bytes]:
        """The line, when it is due; missed ones are not caught up."""
        if now_s < self._next_s:
            return []
        self._next_s = now_s + self._every_s
        value = self._rig.ask(lambda rig: rig.sense(self._channel))
        return [with_checksum(f"{self._name}={value:.{self._decimals}f}")]
