"""The byte layer: opens, sends, receives and closes; foreign exceptions end here.

Every wait is finite. `receive` gives b"" when nothing came and raises `LinkLost` when the other
end is gone; so do `send` and `drain`. A link is used by one thread only.
"""

from __future__ import annotations

import contextlib
import select
import socket
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol, TypeVar

from drivers.errors import CannotOpen, InstrumentClosed, InstrumentError, LinkLost

CONNECT_S = 1.0
SEND_S = 0.5
CHUNK = 4096
DRAINED_AT_MOST = 64 * CHUNK

T = TypeVar("T")


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

    def drain(self) -> bytes:
        """Take and return what has arrived already, without waiting.

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


class SocketLink:
    """A TCP connection: `socket://host:port`, or `tcp://host:port` for Modbus."""

    def __init__(
        self, host: str, port: int, *, instrument: str, connect_s: float = CONNECT_S
    ) -> None:
        self._host, self._port = host, port
        self._instrument = instrument
        self._connect_s = connect_s
        self._socket: socket.socket | None = None

    @property
    def where(self) -> str:
        return f"{self._host} port {self._port}"

    def open(self) -> None:
        self.close()
        try:
            opened = socket.create_connection((self._host, self._port), self._connect_s)
        except OSError as error:
            raise CannotOpen(
                self._instrument,
                f"nothing answers at {self.where} ({error}).",
                what_to_do="Check that the instrument or its server is on, and the address.",
            ) from error
        with contextlib.suppress(OSError):
            opened.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            opened.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        opened.settimeout(SEND_S)
        self._socket = opened

    def send(self, data: bytes) -> None:
        self._guard(lambda link: link.sendall(data), "write")

    def receive(self, wait_s: float) -> bytes:
        return self._guard(lambda link: _received(link, wait_s), "read")

    def drain(self) -> bytes:
        return drained(self)

    def close(self) -> None:
        closing, self._socket = self._socket, None
        if closing is not None:
            with contextlib.suppress(OSError):
                closing.close()

    def _guard(self, act: Callable[[socket.socket], T], doing: str) -> T:
        if self._socket is None:
            raise not_open(self._instrument, self.where)
        try:
            return act(self._socket)
        except (OSError, ValueError) as error:
            raise lost(self._instrument, self.where, doing, error) from error


class UdpLink:
    """Datagrams arriving at a local port: `udp://address:port` (0.0.0.0 = any)."""

    def __init__(self, host: str, port: int, *, instrument: str) -> None:
        self._host, self._port = host, port
        self._instrument = instrument
        self._socket: socket.socket | None = None

    @property
    def where(self) -> str:
        return f"UDP {self._host} port {self._port}"

    def open(self) -> None:
        self.close()
        opened = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        try:
            opened.bind((self._host, self._port))
        except OSError as error:
            opened.close()
            raise CannotOpen(
                self._instrument,
                f"cannot listen at {self.where} ({error}).",
                what_to_do="Close the other program that listens there, or change the port.",
            ) from error
        self._socket = opened

    def send(self, data: bytes) -> None:
        raise InstrumentClosed(self._instrument, "a UDP port only listens.")

    def receive(self, wait_s: float) -> bytes:
        if self._socket is None:
            raise not_open(self._instrument, self.where)
        try:
            if not select.select([self._socket], [], [], max(wait_s, 0.0))[0]:
                return b""
            datagram = self._socket.recv(65_535)
        except (OSError, ValueError) as error:
            raise lost(self._instrument, self.where, "read", error) from error
        return datagram if datagram.endswith((b"\n", b"\r")) else datagram + b"\n"

    def drain(self) -> bytes:
        return drained(self)

    def close(self) -> None:
        closing, self._socket = self._socket, None
        if closing is not None:
            with contextlib.suppress(OSError):
                closing.close()


def _received(link: socket.socket, wait_s: float) -> bytes:
    if not select.select([link], [], [], max(wait_s, 0.0))[0]:
        return b""
    chunk = link.recv(CHUNK)
    if not chunk:
        raise OSError("the other end closed the connection")
    return chunk


def drained(link: Link) -> bytes:
    """What has arrived at `link` already; an end that never stops talking is left after 256 KiB.

    Raises:
        LinkLost: The port is gone.
    """
    waiting = bytearray()
    while len(waiting) < DRAINED_AT_MOST and (chunk := link.receive(0.0)):
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


def host_and_port(address: str, instrument: str) -> tuple[str, int]:
    """Split `host:port`, also `[::1]:4001`.

    Raises:
        CannotOpen: If there is no port number in it.
    """
    host, _, port = address.partition("//")[2].rstrip("/").rpartition(":")
    if not host or not port.isascii() or not port.isdigit() or not 0 < int(port) < 65_536:
        raise CannotOpen(
            instrument,
            f"'{address}' is not an address.",
            what_to_do="Write it as socket://host:port.",
        )
    return host.strip("[]"), int(port)


def open_link(port: str, serial: SerialSettings, *, instrument: str) -> Link:
    """The link for `port` as a rig file writes it; it is not opened yet.

    Raises:
        CannotOpen: If `port` is not an address.
    """
    scheme = port.partition("://")[0].lower() if "://" in port else ""
    if scheme in ("socket", "tcp"):
        host, number = host_and_port(port, instrument)
        return SocketLink(host, number, instrument=instrument)
    if scheme == "udp":
        host, number = host_and_port(port, instrument)
        return UdpLink(host, number, instrument=instrument)
    from drivers.serial_link import SerialLink

    return SerialLink(port, serial, instrument=instrument)
