"""Runs of one unit side by side: who ran it, when, where, and what it gave at each set speed."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from pathlib import Path

from acquire.errors import OrderError, RunFileError
from acquire.judge.steady_point import SteadyPoint
from acquire.record.read_run import read_run
from acquire.record.run_header import RunHeader
from acquire.record.verify import verify
from profiles.plain_text import listed, visible

NOT_SAID = "not said"
SAME_CASE_C = 10.0
"""Case temperatures at one speed that differ by more have heat in their spread [°C]. A copper
winding of 60 °C changes its resistance by 3 % over this (common practice, no source)."""
SAME_VOLTS = 0.3
"""Mean voltages at one speed that differ by more are another test [V]: what a hand load holds."""


@dataclass(frozen=True, slots=True)
class SpeedReading:
    """What a run gave at a set speed."""

    amps: float
    """At the set speed."""
    u_amps: float | None
    """Standard uncertainty as the run states it, all parts."""
    u_run_to_run: float | None
    """The same without the parts that are alike in every run with these instruments; None where
    the run does not say which they are."""
    volts: float | None
    case_c: float | None


@dataclass(frozen=True, slots=True)
class RepeatedRun:
    """One of the runs."""

    folder: Path
    run_id: str
    began_utc: str
    day: str
    """The day it began, on its bench's calendar: 2026-11-20."""
    unit: str | None
    """Serial, else what the unit was called."""
    operator: str
    rig: str
    stage: str | None
    method: str
    simulated: bool
    seed: int | None
    """What the instruments and the noise of a simulated rig began from; None for a real one."""
    instruments: str
    """Tells whether two runs were read by the very same instruments, set up alike."""
    sealed: bool
    readings: dict[float, SpeedReading]
    """By set speed [rpm]."""
    unsettled: tuple[float, ...]
    """Set speeds left out because the reading never settled."""

    def group(self, by: str) -> str:
        """What the run counts to: its operator, day or rig."""
        return {"operator": self.operator, "day": self.day, "rig": self.rig}[by]


def read_repeated(folders: Sequence[Path], *, least: int) -> list[RepeatedRun]:
    """Read at least `least` runs of one unit, the oldest first.

    Raises:
        OrderError: If they are too few, one comes twice, or they are of several units.
        RunFileError: If one cannot be read, or still runs.
    """
    runs = sorted((_read(one) for one in folders), key=lambda run: run.began_utc)
    for before, run in pairwise(runs):
        if before.run_id == run.run_id:
            raise OrderError(f"{run.run_id} was given twice.", what_to_do="Give each run once.")
    if len(runs) < least:
        raise OrderError(
            f"{len(runs)} run(s) are too few to study.",
            what_to_do=f"Give at least {least} runs of one unit.",
        )
    units = sorted({run.unit for run in runs if run.unit is not None})
    if len(units) > 1:
        raise OrderError(
            f"The runs are of several units: {listed(map(visible, units), joint='and')}.",
            what_to_do="Give the runs of one unit; its serial tells it apart.",
        )
    return runs


def _read(folder: Path) -> RepeatedRun:
    from acquire.rejudging import points_of_run

    run = read_run(folder)
    if run.header.state == "running":
        raise RunFileError(
            folder, "has not ended.", what_to_do="End it, or go on with `steadyamps resume`."
        )
    return repeated_run(folder, run.header, points_of_run(run), sealed=verify(folder).sealed)


def repeated_run(
    folder: Path, header: RunHeader, taken: Sequence[SteadyPoint], *, sealed: bool
) -> RepeatedRun:
    """What a run gives to a study, from its header and its steady points."""
    points = [point for point in taken if point.amps is not None]
    settled = sorted((p for p in points if p.settled != "no"), key=lambda point: point.set_rpm)
    readings = {
        rpm: _reading(list(group)) for rpm, group in groupby(settled, key=lambda p: p.set_rpm)
    }
    unsettled = sorted({p.set_rpm for p in points} - readings.keys())
    return RepeatedRun(
        folder=folder,
        run_id=header.run_id,
        began_utc=header.began_utc,
        day=header.began_day.isoformat(),
        unit=header.serial or header.unit,
        operator=visible(header.operator or NOT_SAID),
        rig=visible(header.rig.title if header.rig is not None else NOT_SAID),
        stage=header.stage,
        method=visible(header.method.title if header.method is not None else NOT_SAID),
        simulated=header.simulated,
        seed=_seed(header),
        instruments=_instruments(header),
        sealed=sealed,
        readings=readings,
        unsettled=tuple(unsettled),
    )


def _seed(header: RunHeader) -> int | None:
    values = {} if header.rig is None else header.rig.values
    seed = (values.get("simulated") or {}).get("seed")
    return seed if header.simulated and isinstance(seed, int) else None


def _instruments(header: RunHeader) -> str:
    values = {} if header.rig is None else header.rig.values
    identities = {name: facts.identity for name, facts in header.instruments.items()}
    facts = [values.get("channels"), identities, _seed(header)]
    return json.dumps(facts, sort_keys=True, default=str)


def _reading(points: Sequence[SteadyPoint]) -> SpeedReading:
    """The reading of a speed; of a sweep up and down the mean, with the larger doubt of the two."""
    amps = [p.amps if p.amps_at_set_rpm is None else p.amps_at_set_rpm for p in points]
    return SpeedReading(
        amps=math.fsum(value or 0.0 for value in amps) / len(amps),
        u_amps=_largest(p.u_amps_at_set_rpm or p.u_amps for p in points),
        u_run_to_run=_largest(_u_run_to_run(p) for p in points),
        volts=_mean(p.volts for p in points),
        case_c=_mean(p.case_c for p in points),
    )


def _u_run_to_run(point: SteadyPoint) -> float | None:
    if point.budget is None:
        return None
    return math.hypot(*(part.amps for part in point.budget.parts if not part.common))


def _largest(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value]
    return max(known) if known else None


def _mean(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return math.fsum(known) / len(known) if known else None


def cautions(runs: Sequence[RepeatedRun]) -> list[str]:
    """What makes these runs differ besides the bench, and what was left out."""
    said = []
    if any(run.simulated for run in runs):
        said.append("SIMULATED: these runs come from a machine in software.")
    seeds = [run.seed for run in runs if run.seed is not None]
    if len(set(seeds)) < len(seeds):
        said.append(
            "Simulated with one seed: the noise repeats too, so this spread is smaller than that"
            " of a bench. (Another seed in a rig's [simulated] makes other noise and other meters.)"
        )
    broken = [run.run_id for run in runs if not run.sealed]
    if broken:
        said.append(f"Not as sealed, so not to be relied on: {', '.join(broken)}.")
    if any(run.unit is None for run in runs):
        said.append("Some runs do not say which unit they were; it is taken for the same one.")
    stages = {run.stage for run in runs}
    if {"before", "after"} <= stages:
        said.append("Runs from before and after a rebuild: the unit itself changed in between.")
    said += [
        f"{run.run_id}: never settled at {', '.join(f'{rpm:.0f}' for rpm in run.unsettled)} rpm,"
        " left out."
        for run in runs
        if run.unsettled
    ]
    return [*said, *_unequal(runs)]


def _unequal(runs: Sequence[RepeatedRun]) -> list[str]:
    said = []
    hot = _differing(runs, "case_c", SAME_CASE_C)
    if hot:
        said.append(
            f"The case was at {_ranges(hot, 0, '°C')}: the unit's heat is in this spread, not the"
            " bench alone."
        )
    apart = _differing(runs, "volts", SAME_VOLTS)
    if apart:
        said.append(f"The voltage was {_ranges(apart, 1, 'V')}: these were not the same test.")
    return said


def _differing(
    runs: Sequence[RepeatedRun], name: str, allowed: float
) -> dict[float, tuple[float, float]]:
    """Lowest and highest of a quantity at the speeds where they are too far apart."""
    found = {}
    for rpm in sorted({rpm for run in runs for rpm in run.readings}):
        read = (getattr(run.readings[rpm], name) for run in runs if rpm in run.readings)
        values = [value for value in read if value is not None]
        if values and max(values) - min(values) > allowed:
            found[rpm] = (min(values), max(values))
    return found


def _ranges(found: dict[float, tuple[float, float]], decimals: int, unit: str) -> str:
    parts = (
        f"{low:.{decimals}f} to {high:.{decimals}f} {unit} at {rpm:.0f} rpm"
        for rpm, (low, high) in found.items()
    )
    return ", ".join(parts)
