"""A loopback socket that takes one client at a time, as an instrument's network port does."""

from __future__ import annotations

import contextlib
import socket


class SocketPort:
    """Listens at `host`; the newest client takes the place of the one before."""

    def __init__(self, host: str = "127.0.0.1", number: int = 0) -> None:
        self._listener = socket.create_server((host, number))
        self._listener.setblocking(False)
        self._client: socket.socket | None = None
        name = self._listener.getsockname()
        self.host, self.number = str(name[0]), int(name[1])
        self._unplugged = False

    @property
    def address(self) -> str:
        """`host:port` as it can be reached."""
        return f"{self.host}:{self.number}"

    def watched(self) -> list[int]:
        """The listening socket, and the client's."""
        client = self._client
        own = [self._listener.fileno()]
        return own if client is None else [*own, client.fileno()]

    def read(self) -> bytes:
        """What the client sent; lets a new client in first."""
        self._accept()
        if self._client is None:
            return b""
        try:
            data = self._client.recv(4096)
        except BlockingIOError:
            return b""
        except OSError:
            data = b""
        if not data:
            self._hang_up()
        return data

    def _accept(self) -> None:
        try:
            client, _ = self._listener.accept()
        except OSError:
            return
        if self._unplugged:
            client.close()
            return
        client.setblocking(False)
        with contextlib.suppress(OSError):
            client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._hang_up()
        self._client = client

    def write(self, data: bytes) -> None:
        """Send, if somebody is there; who does not read for long loses it."""
        if self._client is not None:
            try:
                self._client.send(data)
            except BlockingIOError:
                return
            except OSError:
                self._hang_up()

    def unplug(self, out: bool) -> None:
        """Hang up and refuse everybody, or let them in again."""
        self._unplugged = out
        if out:
            self._hang_up()

    def _hang_up(self) -> None:
        client, self._client = self._client, None
        if client is not None:
            client.close()

    def close(self) -> None:
        """Stop listening."""
        self._hang_up()
        self._listener.close()
