"""A sweep with faults that a test chose."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from tests.endurance.faults import FOR_EVER_S, Planted
from tests.endurance.planned import planned_sweep
from tests.endurance.sweep_run import Happened, SweepRun

ONE_SPEED = "quick, kept to one speed"
AT_SPEED_S = 10.0
"""On the shipped rig the drive has reached its first speed by then [s]."""


def swept(
    shelf: Path,
    *faults: tuple[str, str, float],
    rig: str = "driven",
    method: str = ONE_SPEED,
    goes_on: bool = False,
    for_s: float = FOR_EVER_S,
) -> Happened:
    """Run it; a fault is its kind, its target, and when it begins [s]."""
    shelf.mkdir(exist_ok=True)
    planned = replace(
        planned_sweep(1, 0),
        rig=rig,
        machine="small-frame-14v-90a",
        method=method,
        faults=tuple(Planted(kind, target, at_s, for_s) for kind, target, at_s in faults),
        goes_on=goes_on,
    )
    return SweepRun(planned, shelf).run()
