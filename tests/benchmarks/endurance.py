"""A day on the bench: sweep after sweep with faults on wires, sensors, disk and processes.

    python -m tests.benchmarks.endurance --hours 24 --seed 7
    python -m tests.benchmarks.endurance --seed 7 --only 123    # that sweep again, alone

The whole program runs: drivers, ports, bench, guard, stop path, record, shelf. Only time, threads
and the outermost layer of files and wires are the world's (`tests/endurance`). Exit code 1 when
a promise was not kept.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.benchmarks.figures import Figure, Size
from tests.endurance.day import HOUR_S, Day, run_day, run_one
from tests.endurance.faults import KINDS
from tests.endurance.held import Held
from tests.endurance.judged import breaches, stops
from tests.endurance.planned import planned_sweep

PROMISES = (
    ("runs not accounted for", ("unaccounted run",)),
    ("steady points lost", ("lost point",)),
    ("wrong readings accepted", ("wrong reading",)),
    ("drives left running", ("drive left running",)),
    ("stops too late", ("late stop",)),
    ("seals that do not verify", ("seal",)),
    ("replays that differ", ("replay",)),
    ("runs that could not go on", ("resume",)),
    ("files, ports, threads, memory leaked", ("leak",)),
    ("threads dead of an error", ("dead thread",)),
)


def figures(size: Size) -> list[Figure]:
    """How often each promise was broken."""
    hours = {"tiny": 0.05, "short": 1.0, "full": 24.0}[size]
    with tempfile.TemporaryDirectory() as made:
        day = run_day(1, hours=hours, folder=Path(made), say=_say, with_real=size != "tiny")
    note = f"{day.sweeps} sweeps, {sum(day.faults.values())} faults"
    return [
        Figure(
            f"{day.simulated_s / HOUR_S:.1f} simulated hours with faults: {words}",
            sum(one.kind in kinds for _, one in day.breaches),
            at_most=0,
            note=note,
        )
        for words, kinds in PROMISES
    ]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run, print, and say by the exit code whether all was kept."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=24.0, help="simulated hours")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=int, help="run only the sweep of this number")
    parser.add_argument("--keep", type=Path, help="an empty folder for the runs, kept afterwards")
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as made:
        folder = asked.keep or Path(made)
        if asked.only is not None:
            return only(asked.seed, asked.only, folder)
        day = run_day(asked.seed, hours=asked.hours, folder=folder, say=_say)
    _say(table(day))
    return 1 if day.breaches else 0


def only(seed: int, number: int, folder: Path) -> int:
    """One sweep again, with the same faults at the same instants."""
    planned = planned_sweep(seed, number)
    _say(str(planned))
    shelf = folder / "shelf"
    shelf.mkdir(parents=True)
    happened = run_one(planned, shelf)
    for fault, began_s in happened.begun_faults:
        _say(f"  begun at {began_s:.2f} s: {fault}")
    for part in happened.parts:
        why = part.report.reason.words if part.report is not None else ""
        found = part.found.state if part.found is not None else "no run"
        _say(f"  {part.began_s:.1f} to {part.ended_s:.1f} s: {found}; {why} {part.error}")
    for stop in stops(happened):
        _say(f"  stop, {stop.kind}: {stop.took_s:.2f} s (allowed {stop.may_take_s:.2f} s)")
    found_breaches = list(breaches(happened))
    for one in found_breaches:
        _say(f"BREACH {one.kind}: {one.words}")
    return 1 if found_breaches else 0


def table(day: Day) -> str:
    """All that was counted."""
    lines = [
        f"seed {day.seed}: {day.simulated_s / HOUR_S:.1f} simulated hours, {day.sweeps} sweeps, "
        f"{day.resumed} resumed, {day.cpu_s / 60:.1f} minutes of processor",
        f"runs begun {day.runs}; steady points announced {day.announced}; "
        f"readings accepted and checked {day.accepted}",
        "faults: " + _counted({group: _of_group(day, group) for group in _groups()}),
        "  " + _counted(day.faults),
        "how sweeps ended: " + _counted(day.ends),
        "real processes ended: " + (_real(day) or "none"),
        "stops [s]: " + "; ".join(_stop_line(kind, took) for kind, took in day.stops.items()),
        f"sweeps that took too long and were stopped: {len(day.overdue)}",
        *(f"  {one}" for one in day.overdue),
        "held: " + "; ".join(_held(one) for one in (day.held[0], *day.held[1:2], day.held[-1])),
    ]
    for words, kinds in PROMISES:
        lines.append(f"{words:40} {sum(one.kind in kinds for _, one in day.breaches)}")
    again = "again: python -m tests.benchmarks.endurance"
    broken = sorted({number for number, _ in day.breaches if number >= 0})
    lines += [f"{again} --seed {day.seed} --only {number}" for number in broken]
    return "\n".join(lines)


def _groups() -> list[str]:
    return list(dict.fromkeys(kind.group for kind in KINDS.values()))


def _of_group(day: Day, group: str) -> int:
    return sum(count for name, count in day.faults.items() if KINDS[name].group == group)


def _counted(counts: dict[str, int]) -> str:
    ordered = sorted(counts.items(), key=lambda one: -one[1])
    return ", ".join(f"{name} {count}" for name, count in ordered) or "none"


def _real(day: Day) -> str:
    return ", ".join(f"{end.name} (drive off after {end.stop_s:.2f} s)" for end in day.real)


def _stop_line(kind: str, took: list[float]) -> str:
    middle = sorted(took)[len(took) // 2]
    return f"{kind}: n {len(took)}, median {middle:.2f}, largest {max(took):.2f}"


def _held(held: Held) -> str:
    memory = f"{held.memory_mb:.1f} MB" if held.memory_mb is not None else "memory not known"
    return f"{held.hour:.1f} h {memory}, files {held.files}, threads {held.threads}"


def _say(text: str) -> None:
    print(text, flush=True)


if __name__ == "__main__":
    sys.exit(main())
