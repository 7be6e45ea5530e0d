"""A line to a server that takes its time: every byte comes so much later, in both directions."""

from __future__ import annotations

import queue
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress


class SlowLine:
    """Passes connections on to a port of loopback, each way late by half the round trip."""

    def __init__(self, port: int, *, round_trip_s: float) -> None:
        self._target = port
        self._late_s = round_trip_s / 2
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listening.getsockname()[1]
        self._sockets = [self._listening]
        threading.Thread(target=self._accept, daemon=True).start()

    def close(self) -> None:
        """Cut every connection."""
        for one in self._sockets:
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                near, _address = self._listening.accept()
                far = socket.create_connection(("127.0.0.1", self._target))
                for one in (near, far):
                    one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                self._sockets += [near, far]
                self._pass(near, far)
                self._pass(far, near)

    def _pass(self, source: socket.socket, sink: socket.socket) -> None:
        waiting: queue.SimpleQueue[tuple[float, bytes]] = queue.SimpleQueue()
        threading.Thread(target=self._take, args=(source, waiting), daemon=True).start()
        threading.Thread(target=self._give, args=(sink, waiting), daemon=True).start()

    def _take(self, source: socket.socket, waiting: queue.SimpleQueue[tuple[float, bytes]]) -> None:
        with suppress(OSError):
            while data := source.recv(65536):
                waiting.put((time.monotonic() + self._late_s, data))
        waiting.put((0.0, b""))

    def _give(self, sink: socket.socket, waiting: queue.SimpleQueue[tuple[float, bytes]]) -> None:
        with suppress(OSError):
            while (item := waiting.get())[1]:
                time.sleep(max(item[0] - time.monotonic(), 0.0))
                sink.sendall(item[1])
            sink.shutdown(socket.SHUT_WR)


@contextmanager
def slow_line(port: int, *, round_trip_s: float) -> Iterator[int]:
    """The port of a slow line to `port`."""
    line = SlowLine(port, round_trip_s=round_trip_s)
    try:
        yield line.port
    finally:
        line.close()
