"""The simulated rig served over the wires that real instruments use, with a clock of its own."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta
from typing import Any

from drivers.clock import Clock
from drivers.simulated.bus import BANK_AMPS
from drivers.simulated.rig_model import DEFAULT_MACHINE, DEFAULT_SEED, RigModel
from drivers.simulated.servers.answering import Instrument, Server, SharedRig, Wire
from drivers.simulated.servers.line_server import LineTalker
from drivers.simulated.servers.modbus_server import (
    RtuModbus,
    TcpModbus,
    bank_device,
    drive_device,
)
from drivers.simulated.servers.scpi_server import HoldingLoad, Multimeter
from drivers.simulated.servers.socket_port import SocketPort
from profiles.rig import Rig

SHUNT_AMPS_PER_VOLT = 5000.0
PHYSICS_EVERY_S = 0.002
LONGEST_SLICE_S = 0.05
"""However long the computer was busy, the rig moves on by no more than this at once [s]."""
TACHOMETER_EVERY_S = 0.1
THERMOMETER_EVERY_S = 1.0
DRIVE_DEVICE, BANK_DEVICE = 1, 2
CHANNEL_OF = {
    "tachometer": "shaft_rpm",
    "ammeter": "amps",
    "voltmeter": "volts",
    "thermometer": "case_c",
    "drive": "drive_rpm",
    "load": "load",
    "bank": "bank",
    "ripple meter": "ripple_volts",
    "battery voltmeter": "battery_volts",
}


class RigClock(Clock):
    """The time on the rig: it moves as the physics moves, never faster than `pace` x wall."""

    def __init__(self, model: RigModel, pace: float) -> None:
        self.pace = pace
        self._model = model
        self._began_utc = datetime.now(UTC)

    def monotonic_s(self) -> float:
        return self._model.now_s

    def utc(self) -> datetime:
        return self._began_utc + timedelta(seconds=self._model.now_s)

    def sleep_s(self, seconds: float) -> None:
        until_s = self._model.now_s + seconds
        while self._model.now_s < until_s:
            time.sleep(min((until_s - self._model.now_s) / self.pace, 0.05) + 1e-4)


class SimulatedService:
    """One simulated rig behind wires; `start`, use the addresses, `close`."""

    def __init__(
        self,
        machine: str = DEFAULT_MACHINE,
        fault: str | None = None,
        *,
        pace: float = 8.0,
        wires: str = "sockets",
        seed: int = DEFAULT_SEED,
        host: str = "127.0.0.1",
    ) -> None:
        """Nothing is served before `start`.

        Raises:
            ProfileError: If machine or fault are not known.
        """
        self.model = RigModel(machine, fault, seed)
        self.rig = SharedRig(self.model)
        self.clock = RigClock(self.model, pace)
        self._wires = wires
        self._seed = seed
        self._host = host
        self._pace = pace
        self._servers: dict[str, Server] = {}
        self._ended = threading.Event()
        self._physics = threading.Thread(target=self._live, name="simulated physics", daemon=True)

    # ---- life ------------------------------------------------------------------------------

    def start(self) -> dict[str, str]:
        """Serve every instrument; name -> address."""
        for name in CHANNEL_OF:
            self._servers[name] = self._server(name)
        for server in self._servers.values():
            server.start()
        self._physics.start()
        return {name: self.address(name) for name in CHANNEL_OF}

    def close(self) -> None:
        """End every thread and wire; harmless when closed already."""
        self._ended.set()
        if self._physics.ident is not None:
            self._physics.join(2.0)
        for server in self._servers.values():
            server.close()
        self._servers.clear()

    def address(self, name: str) -> str:
        """How a rig file names the port of an instrument."""
        wire = self._servers[name].wire
        if self._wires == "pseudo-terminals":
            return wire.address
        kind = "tcp" if name in ("drive", "bank") else "socket"
        return f"{kind}://{wire.address}"

    def filled_rig(self, rig: Rig) -> Rig:
        """`rig` with `simulated:NAME` replaced by addresses, and its pulleys on the model."""
        self.rig.tell(lambda model: model.set_ratio(rig.ratio))
        channels = {name: self._filled(channel) for name, channel in rig.channels.items()}
        parts: dict[str, Any] = {"channels": channels}
        for part in ("drive", "load", "field"):
            table = getattr(rig, part)
            if table is not None:
                parts[part] = self._filled(table)
        return rig.model_copy(update=parts)

    def _filled(self, table: Any) -> Any:  # noqa: ANN401 - any table of a rig that has a port
        port = getattr(table, "port", None)
        if not isinstance(port, str) or not port.startswith("simulated:"):
            return table
        return table.model_copy(update={"port": self.address(port.removeprefix("simulated:"))})

    # ---- physics ---------------------------------------------------------------------------

    def _live(self) -> None:
        """Move the rig on with the wall clock, in slices, never catching up what was missed."""
        before_s = time.monotonic()
        owed_s = 0.0
        while not self._ended.wait(PHYSICS_EVERY_S):
            now_s = time.monotonic()
            owed_s = min(owed_s + (now_s - before_s) * self._pace, LONGEST_SLICE_S)
            before_s = now_s
            to_s = self.model.now_s + owed_s
            self.rig.tell(lambda model, to_s=to_s: model.advance(to_s))  # type: ignore[misc]
            owed_s = to_s - self.model.now_s

    # ---- instruments -----------------------------------------------------------------------

    def _server(self, name: str) -> Server:
        channel = CHANNEL_OF[name]
        return Server(
            self._wire(), self._instrument(name), self.rig, channel=channel, seed=self._seed
        )

    def _wire(self) -> Wire:
        if self._wires == "pseudo-terminals":
            from drivers.simulated.servers.terminal import TerminalPort  # POSIX only

            return TerminalPort()
        return SocketPort(self._host)

    def _instrument(self, name: str) -> Instrument:
        rig = self.rig
        match name:
            case "tachometer":
                return LineTalker(rig, channel="shaft_rpm", name="RPM", every_s=TACHOMETER_EVERY_S)
            case "thermometer":
                return LineTalker(rig, channel="case_c", name="CASE", every_s=THERMOMETER_EVERY_S)
            case "ammeter":
                return Multimeter(rig, channel="amps", scale=SHUNT_AMPS_PER_VOLT)
            case "load":
                return HoldingLoad(rig)
            case "drive":
                return self._modbus({DRIVE_DEVICE: drive_device(rig)})
            case "bank":
                return self._modbus({BANK_DEVICE: bank_device(rig, len(BANK_AMPS))})
            case _:
                return Multimeter(rig, channel=CHANNEL_OF[name])

    def _modbus(self, devices: dict[int, Any]) -> Instrument:
        return RtuModbus(devices) if self._wires == "pseudo-terminals" else TcpModbus(devices)
