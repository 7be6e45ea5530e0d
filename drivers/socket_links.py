"""Links over the network: a TCP connection, and datagrams that arrive by UDP."""

from __future__ import annotations

import contextlib
import select
import socket
from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import TypeVar

from drivers.errors import CannotOpen, CommandRefused
from drivers.links import CHUNK, DRAINED_AT_MOST, SEND_S, drained, lost, not_open

CONNECT_S = 1.0
"""An instrument on the shop's own network answers in milliseconds [s]."""
LARGEST_DATAGRAM = 65_535

T = TypeVar("T")


class _OverSocket(ABC):
    """What both kinds have in common: one socket or none, how it is waited for and closed."""

    def __init__(self, where: str, instrument: str) -> None:
        self.where = where
        self._instrument = instrument
        self._socket: socket.socket | None = None

    @abstractmethod
    def _taken(self, opened: socket.socket) -> bytes:
        """What lies ready at the socket."""

    def receive(self, wait_s: float) -> bytes:
        return self._guard(lambda one: self._taken(one) if _ready(one, wait_s) else b"", "read")

    def drain(self, at_most: int = DRAINED_AT_MOST) -> bytes:
        return drained(self.receive, at_most)

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


def _ready(opened: socket.socket, wait_s: float) -> bool:
    """True once there is something to read; waits up to `wait_s` for it."""
    return bool(select.select([opened], [], [], max(wait_s, 0.0))[0])


class SocketLink(_OverSocket):
    """A TCP connection: `socket://host:port`, or `tcp://host:port` for Modbus."""

    def __init__(
        self, host: str, port: int, *, instrument: str, connect_s: float = CONNECT_S
    ) -> None:
        super().__init__(f"{host} port {port}", instrument)
        self._address = (host, port)
        self._connect_s = connect_s

    def open(self) -> None:
        self.close()
        try:
            opened = socket.create_connection(self._address, self._connect_s)
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

    def _taken(self, opened: socket.socket) -> bytes:
        chunk = opened.recv(CHUNK)
        if not chunk:
            raise OSError("the other end closed the connection")
        return chunk


class UdpLink(_OverSocket):
    """Datagrams arriving at a local port: `udp://address:port` (0.0.0.0 = any)."""

    def __init__(self, host: str, port: int, *, instrument: str) -> None:
        super().__init__(f"UDP {host} port {port}", instrument)
        self._address = (host, port)

    def open(self) -> None:
        self.close()
        opened = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        try:
            opened.bind(self._address)
        except OSError as error:
            opened.close()
            raise CannotOpen(
                self._instrument,
                f"cannot listen at {self.where} ({error}).",
                what_to_do="Close the other program that listens there, or change the port.",
            ) from error
        self._socket = opened

    def send(self, data: bytes) -> None:
        self._guard(lambda _opened: None, "write")
        raise CommandRefused(
            self._instrument,
            f"{self.where} only listens: nothing can be asked or told there.",
            what_to_do="Leave `query` and `setup` out of the rig file, or give a socket:// port.",
        )

    def _taken(self, opened: socket.socket) -> bytes:
        datagram = opened.recv(LARGEST_DATAGRAM)
        return datagram if datagram.endswith((b"\n", b"\r")) else datagram + b"\n"


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
