"""A rig with every port open: the simulated one started where it is one, locks taken."""

from __future__ import annotations

from contextlib import ExitStack
from types import TracebackType
from typing import Self

from acquire.simulated_hand import Controls
from drivers.bench_wiring import BenchWiring
from drivers.clock import Clock, RealClock, ScaledClock
from drivers.errors import InstrumentError
from drivers.locks import take_lock
from profiles.catalogue import Loaded
from profiles.rig import Rig

OPEN_WAIT_S = 5.0


class OpenedRig:
    """Use as a context: leaving it closes every port."""

    def __init__(self, loaded: Loaded[Rig]) -> None:
        self.loaded = loaded
        self._stack = ExitStack()
        self.rig: Rig = loaded.profile
        """With the addresses filled in, once a simulated rig is started."""
        self.clock: Clock = RealClock()
        self.wiring: BenchWiring | None = None
        self.simulated_controls: Controls | None = None
        """Pile and throttle of a simulated rig that was started here."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def open(self) -> BenchWiring:
        """Open every port and wait for an ok reading of each channel; once only.

        Raises:
            InstrumentError: If a port or a channel is not usable; all of them at once.
        """
        if self.wiring is None:
            wiring = self._new_wiring()
            wiring.open(OPEN_WAIT_S)
            self.wiring = wiring
        return self.wiring

    def open_what_answers(self) -> tuple[BenchWiring, list[InstrumentError]]:
        """Open every port, and give what does not work: for a look at the rest, not for a run.

        Raises:
            InstrumentError: If another program holds the rig or a port of it.
        """
        wiring = self._new_wiring()
        return wiring, wiring.open_what_answers(OPEN_WAIT_S)

    def _new_wiring(self) -> BenchWiring:
        self._lock_file()
        self._start_simulated()
        wiring = BenchWiring(self.rig, self.clock)
        self._stack.callback(wiring.close)
        return wiring

    def close(self) -> None:
        """Close every port; harmless when closed already."""
        self._stack.close()

    def _lock_file(self) -> None:
        """Where nothing is on a wire nobody can be in the way: two may type at the same time."""
        path = self.loaded.path
        if path is None or self.rig.simulated is not None or not any(self.rig.wires()):
            return
        lock = take_lock("rig", str(path.resolve()), instrument=self.rig.title)
        self._stack.callback(lock.release)

    def _start_simulated(self) -> None:
        simulated = self.rig.simulated
        if simulated is None:
            return
        if simulated.served:
            self.clock = ScaledClock(simulated.pace)
            return
        from drivers.simulated.service import SimulatedService

        service = SimulatedService(
            machine=simulated.machine,
            fault=simulated.fault,
            pace=simulated.pace,
            wires=simulated.wires,
            seed=simulated.seed,
        )
        self._stack.callback(service.close)
        service.start()
        self.simulated_controls = service
        self.clock = service.clock
        self.rig = service.filled_rig(self.rig)
