"""A rated curve taken from a run of a reference unit: its steady points, and their source."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

from acquire.errors import RunFileError
from acquire.judge.circumstances import run_state
from acquire.judge.steady_point import SteadyPoint
from acquire.judging import warm_up_in
from acquire.record.read_run import Run, read_run
from acquire.record.verify import verify
from acquire.rejudging import points_of_run
from acquire.snapshots import snapshots_of

CAUTION = (
    "This curve is what one unit gave on one day, not what its maker promises: a unit judged by"
    " it is judged against that unit's figures."
)
_OF_ITS_MAKER = ("marking", "idle_rpm", "rated_rpm")


@dataclass(frozen=True, slots=True)
class ReferenceCurve:
    """What a run says of its unit, as a rated curve has it."""

    name: str
    points: tuple[tuple[float, float], ...]
    """(shaft speed [rpm], current [A])"""
    volts: float
    state: str
    source: str
    alternator: dict[str, Any]
    """What the run's own rated curve says of the unit besides its output."""
    told: tuple[str, ...]


def reference_curve(folder: Path) -> ReferenceCurve:
    """Take the steady points of a complete run whose seal holds.

    Raises:
        RunFileError: If it is no such run, or has no steady point.
    """
    run = read_run(folder)
    seal = _whole_seal(run)
    settled = [p for p in points_of_run(run) if p.amps is not None and p.settled != "no"]
    if not settled:
        raise RunFileError(
            folder, "has no steady point.", what_to_do="Take a run whose readings settled."
        )
    state = _state(run)
    return ReferenceCurve(
        name=f"as {run.header.title} gave, {run.header.began_day}",
        points=_points(settled),
        volts=_volts(run, settled),
        state=state,
        source=_source(run, settled, seal, state),
        alternator=_alternator(run),
        told=(CAUTION, *_left_out(run, settled)),
    )


def _whole_seal(run: Run) -> str:
    from acquire.record.json_text import read_json
    from acquire.record.seal import SEAL_FILE, seal_from

    if run.header.state != "complete":
        raise RunFileError(
            run.folder,
            "is not complete.",
            what_to_do="Finish it with `steadyamps resume`, or take a complete run.",
        )
    if not verify(run.folder).sealed:
        raise RunFileError(
            run.folder,
            "is not as it was sealed; no curve is taken from it.",
            what_to_do="`steadyamps verify` names what was changed; take an untouched copy.",
        )
    return seal_from(read_json(run.folder / SEAL_FILE)).whole


def _points(settled: list[SteadyPoint]) -> tuple[tuple[float, float], ...]:
    """One point a set speed; a sweep up and down gives the mean of both."""
    ordered = sorted(settled, key=lambda point: point.set_rpm)
    means = []
    for rpm, group in groupby(ordered, key=lambda point: point.set_rpm):
        amps = [_amps_at_set(point) for point in group]
        means.append((rpm, round(sum(amps) / len(amps), 1)))
    return tuple(means)


def _amps_at_set(point: SteadyPoint) -> float:
    amps = point.amps if point.amps_at_set_rpm is None else point.amps_at_set_rpm
    return max(amps or 0.0, 0.0)


def _state(run: Run) -> str:
    asked = snapshots_of(run.header).method.warm_up
    ran = warm_up_in(run.journal)
    return run_state(
        asked_s=asked.for_s if asked is not None else None,
        ran_s=ran.lasted_s if ran is not None else 0.0,
        steady=ran.steady if ran is not None else False,
    )


def _volts(run: Run, settled: list[SteadyPoint]) -> float:
    """The test voltage; where the run had none, the mean of what was read."""
    profiles = snapshots_of(run.header)
    stated = profiles.method.test.volts or (
        profiles.rated_curve.volts if profiles.rated_curve is not None else None
    )
    if stated is not None:
        return float(stated)
    read = [point.volts for point in settled if point.volts is not None]
    if not read:
        raise RunFileError(
            run.folder, "does not say its volts.", what_to_do="Give them with --volts."
        )
    return round(sum(read) / len(read), 1)


def _source(run: Run, settled: list[SteadyPoint], seal: str, state: str) -> str:
    doubts = [point.u_amps for point in settled if point.u_amps]
    doubt = f", standard uncertainty up to {max(doubts):.1f} A" if doubts else ""
    made_up = "SIMULATED; " if run.header.simulated else ""
    return (
        f"{made_up}measured {state} on one unit ({run.header.title}), run {run.header.run_id},"
        f" seal sha256 {seal}{doubt}"
    )


def _alternator(run: Run) -> dict[str, Any]:
    rated = run.header.rated
    values = dict(rated.values.get("alternator", {})) if rated is not None else {}
    return {key: value for key, value in values.items() if key not in _OF_ITS_MAKER}


def _left_out(run: Run, settled: list[SteadyPoint]) -> list[str]:
    missing = sorted({row.measured.set_rpm or 0.0 for row in run.curve} - {
        point.set_rpm for point in settled
    })  # fmt: skip
    if not missing:
        return []
    speeds = ", ".join(f"{rpm:.0f}" for rpm in missing)
    return [f"Left out, because the reading never settled: {speeds} rpm."]
