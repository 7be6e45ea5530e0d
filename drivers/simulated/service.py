"""The simulated rig served over the wires that real instruments use, with a clock of its own."""

from __future__ import annotations

import select
import threading
import time
from collections.abc import Callable
from typing import Any

from drivers.simulated.instruments import INSTRUMENTS, devices, named
from drivers.simulated.rig_clock import RigClock
from drivers.simulated.rig_model import DEFAULT_MACHINE, DEFAULT_SEED, RigModel
from drivers.simulated.servers.server import Server, Wire
from drivers.simulated.servers.socket_port import SocketPort
from drivers.simulated.servers.wire_faults import WireFaults
from profiles.address import SIMULATED
from profiles.drive import LoadBank
from profiles.rig import Rig

TICK_S = (0.002, 0.01)
"""Shortest and longest wall time between two looks at the wires."""
CATCH_UP_S = 0.05
"""However long the computer was busy, no more wall time than this is made good at once."""
END_WAIT_S = 5.0


class SimulatedService:
    """One simulated rig behind wires, served by one thread: `start`, use the addresses, `close`."""

    def __init__(
        self,
        machine: str = DEFAULT_MACHINE,
        fault: str | None = None,
        *,
        pace: float = 8.0,
        wires: str = "sockets",
        seed: int = DEFAULT_SEED,
        host: str = "127.0.0.1",
        first_port: int = 0,
    ) -> None:
        """Nothing is served before `start`.

        Args:
            machine: Name of a machine (`machines.MACHINES`).
            fault: `NAME[@S]`, several parted by commas (`faults.read_faults`).
            pace: Seconds on the rig in one wall second, at most.
            wires: `sockets`, or `pseudo-terminals` (POSIX only).
            seed: The same seed gives the same instruments and noise.
            host: Where sockets listen.
            first_port: Number of the first instrument's socket; the others follow it, one each.
                0: whatever is free.

        Raises:
            ProfileError: If machine or fault are not known.
        """
        self.model = RigModel(machine, fault, seed)
        self.clock = RigClock(self.model, pace)
        self._wires = wires
        self._host = host
        self._first_port = first_port
        self._pace = pace
        self._servers: dict[str, Server] = {}
        self._devices = devices(self.model)
        self._lock = threading.Lock()
        self._ended = threading.Event()
        self._thread: threading.Thread | None = None

    # ---- life ------------------------------------------------------------------------------

    def start(self) -> dict[str, str]:
        """Serve every instrument; name -> address.

        Raises:
            OSError: If the computer gives no port.
        """
        if self._thread is None:
            for name in INSTRUMENTS:
                self._servers[name] = self._server(name)
            self._thread = threading.Thread(target=self._live, name="simulated rig", daemon=True)
            self.clock.follow_rig()
            self._thread.start()
        return {name: self.address(name) for name in self._servers}

    def close(self) -> None:
        """End the thread and every wire; harmless when closed already."""
        self._ended.set()
        thread = self._thread
        if thread is not None and thread is not threading.current_thread():
            thread.join(END_WAIT_S)
        for server in self._servers.values():
            server.wire.close()

    def tell(self, act: Callable[[RigModel], None]) -> None:
        """Do something to the rig between two of its steps, from any thread."""
        with self._lock:
            act(self.model)

    def pile(self, ohms: float | None) -> None:
        """Screw the carbon pile to `ohms`, or open it (None); from any thread."""
        self.tell(lambda model: model.pile(ohms))

    def throttle(self, rpm: float) -> None:
        """Move the throttle; from any thread."""
        self.tell(lambda model: model.throttle(rpm))

    def faults(self, name: str) -> WireFaults:
        """What is wrong with the wire of an instrument; set it at will.

        Raises:
            ProfileError: If there is no such instrument.
        """
        return self._servers[named(name)].faults

    # ---- addresses -------------------------------------------------------------------------

    def address(self, name: str) -> str:
        """How a rig file names the port of an instrument.

        Raises:
            ProfileError: If there is no such instrument.
        """
        name = named(name)
        address = self._servers[name].wire.address
        if self._wires == "pseudo-terminals":
            return address
        return f"tcp://{address}" if INSTRUMENTS[name].modbus else f"socket://{address}"

    def resource(self, name: str) -> str:
        """The same as a VISA resource name."""
        address = self._servers[named(name)].wire.address
        if self._wires == "pseudo-terminals":
            return f"ASRL{address}::INSTR"
        host, _, number = address.rpartition(":")
        return f"TCPIP::{host}::{number}::SOCKET"

    def filled_rig(self, rig: Rig) -> Rig:
        """`rig` with `simulated:NAME` replaced by addresses; its pulleys and bank on the model.

        Raises:
            ProfileError: If it names an instrument that the simulated rig does not have.
        """
        self.tell(lambda model: self._fit(model, rig))
        channels = {name: self._filled(channel) for name, channel in rig.channels.items()}
        parts: dict[str, Any] = {"channels": channels}
        for part in ("drive", "load", "field"):
            table = getattr(rig, part)
            if table is not None:
                parts[part] = self._filled(table)
        return rig.model_copy(update=parts)

    def _fit(self, model: RigModel, rig: Rig) -> None:
        model.set_ratio(rig.ratio)
        model.field_from_bench = rig.rig is not None and rig.rig.field_fed == "from bench"
        if _is_simulated(rig.field):
            model.field_switch(on=False)
        if isinstance(rig.load, LoadBank) and _is_simulated(rig.load):
            model.set_bank({step.bit: step.amps for step in rig.load.steps})

    def _filled(self, table: Any) -> Any:  # noqa: ANN401 - any table of a rig that has a port
        port, resource = getattr(table, "port", None), getattr(table, "resource", None)
        if isinstance(port, str) and port.startswith(SIMULATED):
            return table.model_copy(update={"port": self.address(port)})
        if isinstance(resource, str) and resource.startswith(SIMULATED):
            return table.model_copy(update={"resource": self.resource(resource)})
        return table

    # ---- the thread ------------------------------------------------------------------------

    def _live(self) -> None:
        """Move the rig on with the wall clock and answer what was asked."""
        try:
            tick_s = min(max(self.model.step_s / self._pace, TICK_S[0]), TICK_S[1])
            before_s = time.monotonic()
            owed_s = 0.0
            while not self._ended.is_set():
                ready = self._wait(tick_s)
                now_s = time.monotonic()
                owed_s += min(now_s - before_s, CATCH_UP_S) * self._pace
                before_s = now_s
                with self._lock:
                    began_s = self.model.now_s
                    self.model.advance(began_s + owed_s)
                    owed_s -= self.model.now_s - began_s
                    for server in self._servers.values():
                        server.turn(came=not ready.isdisjoint(server.wire.watched()))
        finally:
            self.clock.drift()

    def _wait(self, tick_s: float) -> set[int]:
        """File descriptors with something to read, after a tick at most."""
        watched = [one for server in self._servers.values() for one in server.wire.watched()]
        ready, _, _ = select.select(watched, [], [], tick_s)
        return set(ready)

    def _server(self, name: str) -> Server:
        offered = INSTRUMENTS[name]
        serial = self._wires == "pseudo-terminals"
        instrument = offered.make(self.model, self._devices, serial)
        return Server(self._wire(), instrument, self.model, channel=offered.channel)

    def _wire(self) -> Wire:
        if self._wires == "pseudo-terminals":
            from drivers.simulated.servers.terminal import TerminalPort  # POSIX only

            return TerminalPort()
        return SocketPort(self._host, self._first_port and self._first_port + len(self._servers))


def _is_simulated(table: object) -> bool:
    address = getattr(table, "port", None) or getattr(table, "resource", None) or ""
    return str(address).startswith(SIMULATED)
