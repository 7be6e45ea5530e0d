"""Instruments on real sockets and pseudo-terminals for tests; nothing of the drivers is used here.

The Modbus device is pymodbus's own server, so that a mistake shared by client and server cannot
hide. The SCPI instrument and the line sender are a few lines of their own.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

from pymodbus.constants import ExcCodes
from pymodbus.framer import FramerType
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice


class ModbusPeer:
    """A motor drive in pymodbus's server: run in register 0, speed in 1, output in 10, 20 free."""

    def __init__(
        self,
        *,
        terminal: str = "",
        port: int = 0,
        devices: tuple[int, ...] = (1,),
        framer: FramerType = FramerType.SOCKET,
    ) -> None:
        self._framer = framer
        self.terminal = terminal
        self.port = port
        self.devices = devices
        self.written: list[tuple[float, int, list[int]]] = []
        """Wall time, first register and words of each write."""
        self.refuses: set[int] = set()
        """Functions answered with exception 4."""
        self._loop = asyncio.new_event_loop()
        self._server: Any = None
        self._started = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> ModbusPeer:
        self._thread.start()
        assert self._started.wait(5.0)
        return self

    def __exit__(self, *_: object) -> None:
        asyncio.run_coroutine_threadsafe(self._server.shutdown(), self._loop).result(5.0)
        self._thread.join(5.0)

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        self._loop.run_until_complete(self._serve())
        self._loop.close()

    async def _serve(self) -> None:
        devices = [
            SimDevice(
                number,
                SimData(0, count=64, values=0, datatype=DataType.REGISTERS),
                action=self._act,
            )
            for number in self.devices
        ]
        if self.terminal:
            self._server = ModbusSerialServer(
                devices, framer=FramerType.RTU, port=self.terminal, baudrate=115200
            )
        else:
            self._server = ModbusTcpServer(
                devices, framer=self._framer, address=("127.0.0.1", self.port)
            )
        await self._server.serve_forever(background=True)
        if not self.terminal:
            self.port = self._server.transport.sockets[0].getsockname()[1]
        self._started.set()
        await self._server.serving

    async def _act(
        self,
        function: int,
        start: int,
        address: int,
        count: int,
        registers: list[int],
        new: list[int] | list[bool] | None,
    ) -> ExcCodes | None:
        if function in self.refuses:
            return ExcCodes.DEVICE_FAILURE
        if new is not None:
            self.written.append((time.monotonic(), address, [int(word) for word in new]))
            at = address - start
            registers[at : at + len(new)] = [int(word) for word in new]
        registers[10 - start] = registers[1 - start] if registers[0 - start] else 0
        return None


class SocketPeer:
    """A server that hands each connection to `talk`, one at a time."""

    def __init__(self, talk: Callable[[socket.socket], None], port: int = 0) -> None:
        self._talk = talk
        self._listener = socket.create_server(("127.0.0.1", port))
        self.port: int = self._listener.getsockname()[1]
        self._open = True
        self._connection: socket.socket | None = None
        self._thread = threading.Thread(target=self._run, daemon=True)

    def _run(self) -> None:
        while self._open:
            with contextlib.suppress(OSError):
                self._connection, _ = self._listener.accept()
                with self._connection:
                    self._talk(self._connection)

    def __enter__(self) -> SocketPeer:
        self._thread.start()
        return self

    def unplug(self) -> None:
        """Close the connection, as a pulled plug does."""
        if self._connection is not None:
            with contextlib.suppress(OSError):
                self._connection.shutdown(socket.SHUT_RDWR)

    def __exit__(self, *_: object) -> None:
        self._open = False
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self.unplug()
        self._thread.join(5.0)


class ScpiPeer:
    """A meter and load in one: common commands, an error queue, two readings, an input switch."""

    def __init__(self) -> None:
        self.values = {"MEAS:VOLT:DC?": "+1.40000000E+01", "MEAS:CURR:DC?": "+2.50000000E-02"}
        self.errors: list[str] = []
        self.ese = 0
        self.commands: list[str] = []

    def answers(self, line: str) -> Iterator[str]:
        """What comes back for one message."""
        replies = [self._one(part.strip()) for part in line.split(";") if part.strip()]
        said = [reply for reply in replies if reply is not None]
        if said:
            yield ";".join(said)

    def _one(self, command: str) -> str | None:
        if command in self.values:
            return self.values[command]
        if command == "*IDN?":
            return "INVENTED,METER 1,0042,1.0"
        if command == "*ESE?":
            return str(self.ese)
        if command == "SYST:ERR?":
            return self.errors.pop(0) if self.errors else '0,"No error"'
        self.commands.append(command)
        if command.startswith("*ESE "):
            self.ese = int(command[5:])
        elif command == "*CLS":
            self.errors.clear()
        elif not command.startswith(("VOLT ", "INP ", "MODE:", "CONF:", "OUTP ")):
            self.errors.append('-113,"Undefined header"')
        return None

    def talk(self, connection: socket.socket) -> None:
        """Serve one connection."""
        kept = b""
        while chunk := connection.recv(4096):
            *lines, kept = (kept + chunk).split(b"\n")
            for line in lines:
                for answer in self.answers(line.decode("latin-1").strip()):
                    connection.sendall(answer.encode("latin-1") + b"\n")


def lines_every(line: Callable[[], bytes], every_s: float) -> Callable[[socket.socket], None]:
    """What a sender of lines does with a connection."""

    def talk(connection: socket.socket) -> None:
        while True:
            connection.sendall(line())
            time.sleep(every_s)

    return talk
