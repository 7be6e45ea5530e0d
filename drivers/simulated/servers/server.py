"""One instrument on one wire; many of them are served by one thread."""

from __future__ import annotations

from typing import Protocol

from drivers.simulated.rig_model import LATE_S, RigModel
from drivers.simulated.servers.wire_faults import WireFaults

_GARBAGE_SHARE = 0.3


class Wire(Protocol):
    """A socket or a pseudo-terminal, seen from the instrument. Nothing here waits."""

    @property
    def address(self) -> str:
        """`host:port`, or the name of a device."""
        ...

    def watched(self) -> list[int]:
        """File descriptors that become readable when something comes."""
        ...

    def read(self) -> bytes:
        """What has come; lets a new program in."""
        ...

    def write(self, data: bytes) -> None:
        """Send, if somebody is there."""
        ...

    def unplug(self, out: bool) -> None:
        """Pull the cable, or put it back."""
        ...

    def close(self) -> None:
        """Give everything up."""
        ...


class Instrument(Protocol):
    """Bytes in, messages out. Times are seconds on the rig."""

    def hear(self, data: bytes, now_s: float) -> list[bytes]:
        """Answers to what came in."""
        ...

    def speak(self, now_s: float) -> list[bytes]:
        """What it sends by itself."""
        ...


class Server:
    """An instrument, its wire, and what is wrong with the wire.

    `channel` is the channel whose faults (`RigModel.wire_faults`) are this wire's faults.
    """

    def __init__(
        self, wire: Wire, instrument: Instrument, model: RigModel, *, channel: str
    ) -> None:
        self.wire = wire
        self.faults = WireFaults(seed=f"{model.seed}/wire/{channel}")
        self._instrument = instrument
        self._model = model
        self._channel = channel
        self._named = ""
        self._out = False

    def turn(self, *, came: bool) -> None:
        """Do what is due; `came` = the wire has something to read."""
        self._take_over()
        if self._out != self.faults.out:
            self._out = self.faults.out
            self.faults.forget()
            self.wire.unplug(self._out)
        now_s = self._model.now_s
        data = self.wire.read() if came else b""
        answers = self._instrument.hear(data, now_s) if data else []
        for answer in answers + self._instrument.speak(now_s):
            self.faults.put(answer, now_s)
        arrived = self.faults.due(now_s)
        if arrived:
            self.wire.write(arrived)

    def _take_over(self) -> None:
        """A fault that was asked of the rig by name becomes a fault of this wire, once."""
        named = self._model.wire_faults.get(self._channel, "")
        if named == self._named:
            return
        self._named, faults = named, self.faults
        match named:
            case "sensor-unplugged":
                faults.out = True
            case "garbage":
                faults.garbage_share = _GARBAGE_SHARE
            case "late-answer":
                faults.late_s, faults.late_messages = LATE_S, 1
            case "late-answers":
                faults.late_s, faults.late_messages = LATE_S, None
