"""A simulated rig served in the test's own process, so that the test can look at its drive."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from acquire.cli.served_rig import rig_text
from drivers.simulated.service import SimulatedService
from profiles.catalogue import load_rig, snapshot

PACE = 8.0


@dataclass
class Served:
    """The service, and the rig file that reaches it."""

    service: SimulatedService
    rig_file: Path

    @property
    def told_to_run(self) -> bool:
        """The drive's run command as it stands."""
        return self.service.model.motor.run

    @property
    def shaft_rpm(self) -> float:
        """True shaft speed [rpm]."""
        return self.service.model.shaft_rpm


@contextmanager
def served(
    folder: Path, *, fault: str | None = None, wires: str = "sockets", **changes: Any
) -> Iterator[Served]:
    """Serve the shipped rig; `changes` are tables of its file to be replaced."""
    service = SimulatedService(fault=fault, pace=PACE, wires=wires)
    service.start()
    try:
        rig = service.filled_rig(load_rig("simulated").profile)
        values = {**snapshot(rig), **changes}
        path = folder / "served.toml"
        path.write_text(rig_text(values, machine=service.model.machine.name, pace=PACE))
        yield Served(service, path)
    finally:
        service.close()
