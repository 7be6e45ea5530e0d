"""Whether what came of a sweep is as promised; every breach has a kind and words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from acquire.record.read_run import read_run
from acquire.replay import replay
from acquire.shelf.shelf import open_shelf
from acquire.shelf.wanted import Wanted
from tests.endurance.faults import Planted
from tests.endurance.sweep_run import Happened, Part

STOP_S = 0.6
"""From the reason to the drive told to stop, on sound wires [s]."""
AFTER_SILENCE_S = 2.5
"""Beyond `silent_s`: the last good reading was on its way, and the time-out before it [s]."""
HANG_SEEN_S = 7.0
"""From the moment the readings are no longer looked at to the drive told to stop [s]."""
OVER_S = 1.5
"""How long a limit may be passed before the drive is told to stop [s]."""
TURNS_RPM = 300.0
ACCOUNTED = ("complete", "stopped", "running")


@dataclass(frozen=True)
class Breach:
    """A promise that was not kept."""

    kind: str
    """lost point, wrong reading, drive left running, late stop, leak, unaccounted run, ..."""
    words: str


@dataclass(frozen=True)
class Stop:
    """How long one stop took, by what it may take."""

    kind: str
    took_s: float
    may_take_s: float


def breaches(happened: Happened) -> Iterator[Breach]:
    """All that was not as it must be."""
    for words in happened.wrong:
        yield Breach("wrong reading", words)
    for number, part in enumerate(happened.parts):
        yield from _record(part)
        yield from _drive(happened, part)
        if number and not (_went_on(part) or _rightly_refused(happened, part)):
            yield Breach("resume", f"the run did not go on to its end: {part.error or part.report}")
    yield from _all_points(happened)
    for stop in stops(happened):
        if stop.took_s > stop.may_take_s:
            words = f"{stop.kind}: {stop.took_s:.2f} s, allowed {stop.may_take_s:.2f} s"
            yield Breach("late stop", words)
    for leak in happened.leaks:
        yield Breach("leak", leak)
    for death in happened.deaths:
        yield Breach("dead thread", death)
    yield from _replayed(happened)


def _record(part: Part) -> Iterator[Breach]:
    found = part.found
    if part.begun and found is None:
        yield Breach("unaccounted run", f"{part.folder}: begun, and there is no run")
    if found is None:
        return
    if found.unreadable or found.state not in ACCOUNTED:
        yield Breach("unaccounted run", f"{part.folder}: {found.state} {found.unreadable}")
    if part.sealed and (found.state == "running" or not found.sealed):
        yield Breach("seal", f"{part.folder}: ended in order, but {found}")
    missing = [row for row in part.announced if row not in found.rows]
    for row in missing:
        yield Breach("lost point", f"{part.folder}: {row}")


def _all_points(happened: Happened) -> Iterator[Breach]:
    """After a resume everything announced before is still there."""
    last = happened.parts[-1].found if happened.parts else None
    for part in happened.parts[:-1]:
        for row in part.announced:
            if last is None or row not in last.rows:
                yield Breach("lost point", f"{part.folder} after the resume: {row}")


def _went_on(part: Part) -> bool:
    return part.found is not None and part.found.state == "complete"


FROZEN = ("clamp stuck", "clamp saturated", "meter repeats itself")
"""Faults that leave a current's digits as they are: such a run is ended, and not gone on with."""


def _rightly_refused(happened: Happened, part: Part) -> bool:
    """A meter that did not measure spoils its run; only a planted one may be said not to have."""
    planted = any(one.kind in FROZEN for one, _ in happened.begun_faults)
    return planted and "because a meter did not measure" in part.error


def _drive(happened: Happened, part: Part) -> Iterator[Breach]:
    if part.left_running:
        yield Breach("drive left running", f"its run command stands at {part.ended_s:.1f} s")
    ignored = any(one.kind == "drive ignores stop" for one, _ in happened.begun_faults)
    if not ignored or part.report is None or part.shaft_rpm_after < TURNS_RPM:
        return
    if not any("EMERGENCY STOP" in event.words for event in part.report.events):
        yield Breach("drive left running", "it ignores the stop and nobody was told")


def _replayed(happened: Happened) -> Iterator[Breach]:
    last = happened.parts[-1] if happened.parts else None
    if last is None or last.folder is None or last.found is None or last.found.unreadable:
        return
    again = replay(read_run(last.folder))
    if not again.same:
        yield Breach("replay", f"{last.folder}: {again.differences}")


# ---- how long it took ----------------------------------------------------------------------


def stops(happened: Happened) -> Iterator[Stop]:
    """Every stop of a drive, and every time from going blind to the stop."""
    for part in happened.parts:
        yield from _end_stop(happened, part)
    for fault, began_s in happened.begun_faults:
        yield from _blind_stop(happened, fault, began_s)
    yield from _hang_stop(happened)
    if happened.watch is not None:
        for what, took_s in happened.watch.longest_over_s.items():
            yield Stop(f"{what} over its limit", took_s, OVER_S)


def _end_stop(happened: Happened, part: Part) -> Iterator[Stop]:
    killed = part.killed_s is not None
    tripped_s = part.report.tripped_s if part.report is not None else None
    at_s = part.killed_s if part.killed_s is not None else tripped_s
    took_s = _off_after(happened, at_s)
    if took_s is None:
        return
    disturbed = any(one.target == "drive" for one, _ in happened.begun_faults)
    if killed or disturbed:
        kind = "killed" if killed else "drive's wire disturbed"
        yield Stop(kind, took_s, happened.comm_timeout_s + 0.5)
    else:
        yield Stop("reason to stop byte", took_s, STOP_S)


def _blind_stop(happened: Happened, fault: Planted, began_s: float) -> Iterator[Stop]:
    """From the last that could be seen to the stop."""
    if not fault.blinds or fault.group == "disk" or fault.for_s < happened.silent_s + 3.0:
        return
    took_s = _off_after(happened, began_s)
    if took_s is not None:
        more_s = happened.comm_timeout_s if fault.target == "drive" else 0.0
        kind = f"blind: {fault.kind}"
        yield Stop(kind, took_s, happened.silent_s + AFTER_SILENCE_S + more_s)


def _hang_stop(happened: Happened) -> Iterator[Stop]:
    took_s = _off_after(happened, happened.hung_s)
    if took_s is not None:
        yield Stop("readings not looked at", took_s, HANG_SEEN_S)


def _off_after(happened: Happened, t_s: float | None) -> float | None:
    """From an instant at which the drive ran until it was off; None where it did not run."""
    watch = happened.watch
    if t_s is None or watch is None or not watch.was_running(t_s - 1e-6):
        return None
    off_s = watch.off_after(t_s - 1e-6)
    return happened.lasted_s - t_s if off_s is None else off_s - t_s


# ---- the shelf -----------------------------------------------------------------------------


def shelf_breaches(shelf: Path, states: Mapping[str, str], *, rebuilt: bool) -> Iterator[Breach]:
    """`states`: every run that must be there, by folder; the index is caught up or rebuilt."""
    how = "after a rebuild" if rebuilt else "after catching up"
    with open_shelf(shelf) as opened:
        if rebuilt:
            opened.rebuild()
        entries = {entry.folder: entry for entry in opened.every(Wanted())}
        aside = {one.folder: one.problem for one in opened.unreadable()}
    for folder, state in states.items():
        entry = entries.get(folder)
        if entry is None:
            yield Breach("unaccounted run", f"{folder} not on the shelf {how}: {aside.get(folder)}")
        elif entry.state != state or not entry.outcome_word:
            words = f"{folder} is {entry.state}, {entry.outcome_word} {how}, and was {state}"
            yield Breach("unaccounted run", words)
    for folder in set(entries) - set(states):
        yield Breach("unaccounted run", f"{folder} is on the shelf {how} and never began")
