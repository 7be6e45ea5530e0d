"""What every simulated instrument has in common: a wire, a thread, and faults on the wire."""

from __future__ import annotations

import threading
from collections.abc import Callable
from random import Random
from typing import Protocol

from drivers.simulated.rig_model import LATE_S, RigModel

READ_WAIT_S = 0.004
GARBAGE_SHARE = 0.3


class Wire(Protocol):
    """A socket or a pseudo-terminal, seen from the instrument."""

    @property
    def address(self) -> str: ...

    def read(self, wait_s: float) -> bytes: ...

    def write(self, data: bytes) -> None: ...

    def unplug(self, out: bool) -> None: ...

    def close(self) -> None: ...


class SharedRig:
    """The rig as servers see it: one at a time."""

    def __init__(self, model: RigModel) -> None:
        self._model = model
        self._lock = threading.Lock()

    def ask(self, question: Callable[[RigModel], float]) -> float:
        """Read something off the rig."""
        with self._lock:
            return question(self._model)

    def tell(self, act: Callable[[RigModel], None]) -> None:
        """Do something to the rig."""
        with self._lock:
            act(self._model)

    def now_s(self) -> float:
        """Time on the rig [s]."""
        return self._model.now_s

    def fault_of(self, channel: str) -> str:
        """The fault on a channel's wire now; empty when there is none."""
        return self._model.wire_faults.get(channel, "")

    def forgive(self, channel: str) -> None:
        """A fault that happens once has happened."""
        with self._lock:
            self._model.wire_faults.pop(channel, None)


class Instrument(Protocol):
    """Bytes in, bytes out."""

    def hear(self, data: bytes) -> list[bytes]:
        """Answers to what came in."""
        ...

    def speak(self, now_s: float) -> list[bytes]:
        """What it sends by itself at this time of the rig."""
        ...


class Server:
    """One instrument on one wire, in a thread of its own."""

    def __init__(
        self, wire: Wire, instrument: Instrument, rig: SharedRig, *, channel: str, seed: int
    ) -> None:
        self.wire = wire
        self._instrument = instrument
        self._rig = rig
        self._channel = channel
        self._random = Random(f"{seed}/wire/{channel}")
        self._ended = threading.Event()
        self._late: list[tuple[float, bytes]] = []
        self._thread = threading.Thread(
            target=self._serve, name=f"simulated {channel}", daemon=True
        )

    def start(self) -> None:
        """Begin to serve."""
        self._thread.start()

    def close(self) -> None:
        """End the thread and the wire."""
        self._ended.set()
        if self._thread.ident is not None:
            self._thread.join(2.0)
        self.wire.close()

    def _serve(self) -> None:
        out = False
        while not self._ended.is_set():
            unplugged = self._rig.fault_of(self._channel) == "sensor-unplugged"
            if unplugged != out:
                out = unplugged
                self.wire.unplug(out)
            data = self.wire.read(READ_WAIT_S)
            now_s = self._rig.now_s()
            answers = self._instrument.hear(data) if data else []
            for answer in [*answers, *self._instrument.speak(now_s)]:
                self._send(answer, now_s)
            self._send_late(now_s)

    def _send(self, answer: bytes, now_s: float) -> None:
        fault = self._rig.fault_of(self._channel)
        if fault in ("late-answer", "late-answers"):
            self._late.append((now_s + LATE_S, answer))
            if fault == "late-answer":
                self._rig.forgive(self._channel)
        elif fault == "garbage" and self._random.random() < GARBAGE_SHARE:
            self.wire.write(self._noise() + answer[: self._random.randrange(len(answer) + 1)])
        else:
            self.wire.write(answer)

    def _noise(self) -> bytes:
        return bytes(self._random.randrange(256) for _ in range(self._random.randrange(1, 20)))

    def _send_late(self, now_s: float) -> None:
        while self._late and self._late[0][0] <= now_s:
            self.wire.write(self._late.pop(0)[1])
