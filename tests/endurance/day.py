"""Sweep after sweep until the simulated hours are over; counts, and says what was not kept."""

from __future__ import annotations

import itertools
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from tests.endurance.held import Held, growth, held_now
from tests.endurance.judged import Breach, breaches, shelf_breaches, stops
from tests.endurance.planned import PlannedSweep, planned_sweep
from tests.endurance.real_processes import POSSIBLE, RealEnd, end_a_real_process
from tests.endurance.sweep_run import Happened, SweepRun

HOUR_S = 3600.0
SHELF_EVERY = 20
"""So many sweeps between two looks at the shelf's index."""
REAL_EVERY_H = 2.0
MOST_SAID = 3
"""Breaches of one sweep that are told as they are found; all are counted."""
Say = Callable[[str], None]


@dataclass
class Day:
    """What was counted."""

    seed: int
    shelf: Path
    simulated_s: float = 0.0
    cpu_s: float = 0.0
    sweeps: int = 0
    runs: int = 0
    ends: Counter[str] = field(default_factory=Counter)
    resumed: int = 0
    faults: Counter[str] = field(default_factory=Counter)
    announced: int = 0
    accepted: int = 0
    overdue: list[str] = field(default_factory=list)
    stops: dict[str, list[float]] = field(default_factory=dict)
    real: list[RealEnd] = field(default_factory=list)
    held: list[Held] = field(default_factory=list)
    states: dict[str, str] = field(default_factory=dict)
    breaches: list[tuple[int, Breach]] = field(default_factory=list)
    """With the number of the sweep; -1: of none."""

    def note(self, happened: Happened) -> list[Breach]:
        """Count a sweep; gives its breaches."""
        found = list(breaches(happened))
        number = happened.planned.number
        self.sweeps += 1
        self.simulated_s += happened.lasted_s
        self.accepted += happened.accepted
        self.resumed += len(happened.parts) - 1
        self.faults.update(one.kind for one, _ in happened.begun_faults)
        for part in happened.parts:
            self.announced += len(part.announced)
            if part.found is not None and part.folder is not None:
                self.states[part.folder.name] = part.found.state
            if part.overdue:
                self.overdue.append(str(happened.planned))
        first = happened.parts[0]
        if first.begun or first.found is not None:
            self.runs += 1
        self.ends[_end_of(happened)] += 1
        for stop in stops(happened):
            self.stops.setdefault(stop.kind.split(":")[0], []).append(stop.took_s)
        self.breaches += [(number, one) for one in found]
        return found

    def look_at_the_shelf(self, *, rebuilt: bool = False) -> None:
        """The index must have every run; those of real processes too."""
        states = dict(self.states)
        for folder in self.shelf.iterdir():
            if folder.is_dir() and folder.name not in states and (folder / "run.json").is_file():
                if any(folder.name in one.words for _, one in self.breaches):
                    continue
                states[folder.name] = _state_of(folder)
        found = shelf_breaches(self.shelf, states, rebuilt=rebuilt)
        self.breaches += [(-1, one) for one in found]


def _state_of(folder: Path) -> str:
    from acquire.record.run_header import read_header

    return read_header(folder).state


def _end_of(happened: Happened) -> str:
    part = happened.parts[0]
    if part.killed_s is not None:
        return "killed" if part.begun else "killed before it began"
    if not part.begun:
        return "not begun: " + part.error.split(":")[0]
    if not part.sealed:
        return "record refused: interrupted"
    return part.report.reason.kind if part.report is not None else "?"


def run_one(planned: PlannedSweep, shelf: Path) -> Happened:
    """One sweep with its faults."""
    return SweepRun(planned, shelf).run()


def run_day(
    seed: int,
    *,
    hours: float,
    folder: Path,
    say: Say,
    with_real: bool = True,
    numbers: Sequence[int] | None = None,
) -> Day:
    """Sweep after sweep; a breach is said as it is found. `numbers`: only these sweeps."""
    shelf = folder / "shelf"
    shelf.mkdir(parents=True)
    day = Day(seed, shelf)
    day.held.append(held_now(0.0))
    chance = Random(f"real {seed}")
    began_s, next_h, real_h = time.process_time(), 1.0, REAL_EVERY_H / 2
    for number in numbers if numbers is not None else itertools.count():
        if day.simulated_s >= hours * HOUR_S:
            break
        planned = planned_sweep(seed, number)
        found = day.note(run_one(planned, shelf))
        for one in found[:MOST_SAID]:
            say(f"BREACH {one.kind}: {one.words}\n  in {planned}")
        hour = day.simulated_s / HOUR_S
        if day.sweeps % SHELF_EVERY == 0:
            day.look_at_the_shelf()
        if with_real and POSSIBLE and hour >= real_h:
            real_h += REAL_EVERY_H
            _a_real_one(day, folder, chance, say)
        if hour >= next_h:
            next_h = int(hour) + 1.0
            day.cpu_s = time.process_time() - began_s
            day.held.append(held_now(hour))
            say(_hour_line(day))
    day.look_at_the_shelf()
    day.look_at_the_shelf(rebuilt=True)
    day.held.append(held_now(day.simulated_s / HOUR_S))
    day.breaches += [(-1, Breach("leak", words)) for words in growth(day.held)]
    day.cpu_s = time.process_time() - began_s
    return day


def _a_real_one(day: Day, folder: Path, chance: Random, say: Say) -> None:
    place = folder / f"real {len(day.real)}"
    place.mkdir()
    end = end_a_real_process(day.shelf, place, chance)
    day.real.append(end)
    day.breaches += [(-1, one) for one in end.breaches]
    for one in end.breaches:
        say(f"BREACH {one.kind}: {one.words}")


def _hour_line(day: Day) -> str:
    held = day.held[-1]
    memory = f"{held.memory_mb:.1f} MB" if held.memory_mb is not None else "not known"
    return (
        f"{held.hour:5.1f} h  {day.sweeps:4d} sweeps  memory {memory}  files {held.files}  "
        f"threads {held.threads}  breaches {len(day.breaches)}  processor {day.cpu_s:.0f} s"
    )
