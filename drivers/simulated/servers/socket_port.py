"""A loopback socket that takes one client at a time, as an instrument's serial server does."""

from __future__ import annotations

import contextlib
import select
import socket


class SocketPort:
    """Listens at `host`; the newest client takes the place of the one before."""

    def __init__(self, host: str = "127.0.0.1") -> None:
        self._listener = socket.create_server((host, 0))
        self._listener.setblocking(False)
        self._client: socket.socket | None = None
        name = self._listener.getsockname()
        self.host, self.number = str(name[0]), int(name[1])
        self.unplugged = False

    @property
    def address(self) -> str:
        """`host:port` as it can be reached."""
        return f"{self.host}:{self.number}"

    def read(self, wait_s: float) -> bytes:
        """Bytes from the client; empty when none came within `wait_s` wall seconds."""
        watched = [one for one in (self._listener, self._client) if one is not None]
        ready, _, _ = select.select(watched, [], [], wait_s)
        if self._listener in ready:
            self._accept()
            return b""
        return self._received() if self._client in ready else b""

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            client, _ = self._listener.accept()
            if self.unplugged:
                client.close()
                return
            client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            client.settimeout(1.0)
            self._hang_up()
            self._client = client

    def _received(self) -> bytes:
        data = b""
        if self._client is not None:
            with contextlib.suppress(OSError):
                data = self._client.recv(4096)
            if not data:
                self._hang_up()
        return data

    def write(self, data: bytes) -> None:
        """Send, if somebody is there."""
        if self._client is not None:
            try:
                self._client.sendall(data)
            except OSError:
                self._hang_up()

    def unplug(self, out: bool) -> None:
        """Pull the cable, or put it back."""
        self.unplugged = out
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
