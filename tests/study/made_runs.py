"""Runs of one invented unit for the studies, without folders."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from acquire.study.repeated_runs import RepeatedRun, SpeedReading


def made_run(
    number: int,
    amps: Mapping[float, float],
    *,
    operator: str = "A. Invented",
    rig: str = "Bench 1",
    u_amps: float | None = 0.3,
    u_run_to_run: float | None = 0.2,
    case_c: float = 30.0,
    unit: str | None = "REF-1",
    seed: int | None = None,
    instruments: str = "clamp 7",
) -> RepeatedRun:
    """Run `number`, one a day from 2026-03-01 on; `amps` by set speed."""
    run_id = f"run-{number:02d}"
    return RepeatedRun(
        folder=Path(run_id),
        run_id=run_id,
        began_utc=f"2026-03-{number:02d}T08:00:00.000Z",
        day=f"2026-03-{number:02d}",
        unit=unit,
        operator=operator,
        rig=rig,
        stage="reference",
        method="Quick",
        simulated=seed is not None,
        seed=seed,
        instruments=instruments,
        sealed=True,
        readings={
            rpm: SpeedReading(value, u_amps, u_run_to_run, 13.5, case_c)
            for rpm, value in amps.items()
        },
        unsettled=(),
    )
