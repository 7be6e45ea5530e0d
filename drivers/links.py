"""The byte layer: opens, sends, receives and closes; foreign exceptions end here.

Every wait is finite. `receive` gives b"" when nothing came and raises `LinkLost` when the other
end is gone; so do `send` and `drain`. A link is used by one thread only.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from drivers.errors import InstrumentClosed, InstrumentError, LinkLost

SEND_S = 0.5
"""A port that takes nothing for so long is lost [s]."""
CHUNK = 4096
DRAINED_AT_MOST = 64 * CHUNK


class Link(Protocol):
    """A pipe of bytes to one port."""

    @property
    def where(self) -> str:
        """The port in words, for messages."""
        ...

    def open(self) -> None:
        """Open the port.

        Raises:
            CannotOpen: It is not there, busy or not allowed; says what to do.
        """
        ...

    def send(self, data: bytes) -> None:
        """Write all of `data`.

        Raises:
            LinkLost: The port is gone, or took nothing for half a second.
        """
        ...

    def receive(self, wait_s: float) -> bytes:
        """What has arrived, waiting up to `wait_s` wall seconds for the first byte.

        Raises:
            LinkLost: The port is gone.
        """
        ...

    def drain(self, at_most: int = DRAINED_AT_MOST) -> bytes:
        """Take and return what has arrived already, without waiting: some `at_most` bytes.

        Raises:
            LinkLost: The port is gone.
        """
        ...

    def close(self) -> None:
        """Close the port; harmless when it is closed already, never raises."""
        ...


@dataclass(frozen=True, slots=True)
class SerialSettings:
    """How a serial port is set."""

    baud: int = 9600
    data_bits: int = 8
    parity: str = "N"
    """`N`, `E` or `O`."""
    stop_bits: float = 1


def drained(receive: Callable[[float], bytes], at_most: int = DRAINED_AT_MOST) -> bytes:
    """What a link has received already; an end that never stops talking is left after `at_most`.

    Raises:
        LinkLost: The port is gone.
    """
    waiting = bytearray()
    while len(waiting) < at_most and (chunk := receive(0.0)):
        waiting += chunk
    return bytes(waiting)


def not_open(instrument: str, where: str) -> InstrumentError:
    """The error for a link that is used before `open` or after `close`."""
    return InstrumentClosed(instrument, f"{where} is not open.")


def lost(instrument: str, where: str, doing: str, error: Exception) -> LinkLost:
    """The error for a link that went away while it was used."""
    reason = str(error) or type(error).__name__
    return LinkLost(
        instrument,
        f"the link to {where} was lost during a {doing} ({reason}).",
        what_to_do="Unplugged, switched off, or is another program using the port?",
    )
