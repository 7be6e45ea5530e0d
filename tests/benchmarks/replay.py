"""One hour of five channels at 50 Hz: cost of a reading through record, guard and sweep; replay.

    python -m tests.benchmarks.replay [--seconds 3600]

The readings come from the in-process simulated rig; they are written to a real run folder as they
would be live, and the folder is then replayed.
"""

from __future__ import annotations

import argparse
import platform
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from acquire.guard import Guard
from acquire.guard_plan import guard_plan
from acquire.points import PointMaker, measured_of
from acquire.record.read_run import read_run
from acquire.record.run_folder import RunFolder
from acquire.replay import replay
from acquire.run_order import RunOrder
from acquire.sweep.commands import (
    Command,
    StepTaken,
    TickDecided,
    ZeroTaken,
)
from acquire.sweep.sweep import Sweep
from drivers.readings import Reading
from profiles.catalogue import Loaded, load_rated, load_rig
from profiles.method import Method
from tests.benchmarks.figures import Figure, Size
from tests.in_process_rig import InProcessRig
from tests.rehearsal import tell_rig

EVERY_S = 0.02
CHANNELS = ("shaft_rpm", "amps", "volts", "case_c", "drive_rpm")
UNIT = "small-frame-14v-90a"
TARGET_US, TARGET_REPLAY_S = 30.0, 30.0


def long_method(seconds: float) -> Loaded[Method]:
    """A warm-up that fills the time, all channels watched, then the rated speeds."""
    values = {
        "title": "An hour at 50 Hz",
        "sweep": {},
        "warm_up": {"rpm": 3000.0, "for_s": max(seconds - 300.0, 60.0)},
        "settle": {"amps_percent": 0.2},
    }
    return Loaded(Method.model_validate(values), None, "", "file")


def record_one(folder: Path, seconds: float) -> tuple[RunFolder, int, float]:
    """Run the sweep; (record, readings, seconds spent on record, guard and sweep)."""
    order = RunOrder(rig=load_rig("simulated"), method=long_method(seconds), rated=load_rated(UNIT))
    plan, rig = order.plan(), order.rig.profile
    simulated = InProcessRig(UNIT, None, 1, every_s=dict.fromkeys(CHANNELS, EVERY_S))
    record = RunFolder.create(folder, order.header(plan), simulated.clock)
    sweep, guard = Sweep(plan), Guard(guard_plan(rig, plan, rated_max_rpm=None))
    points = PointMaker(plan, rig)
    count, spent_s = 0, 0.0
    while not sweep.finished and simulated.clock.monotonic_s() < seconds:
        readings = simulated.advance(0.1)
        began_s = time.perf_counter()
        _turn(readings, record, guard, sweep, points, simulated)
        spent_s += time.perf_counter() - began_s
        count += len(readings)
    record.append("stopping", {"kind": "complete", "stepped_rows": record.sample_rows})
    record.finish("complete", verdict={"outcome": "not judged", "reason": "a benchmark"})
    return record, count, spent_s


def _turn(
    readings: list[Reading],
    record: RunFolder,
    guard: Guard,
    sweep: Sweep,
    points: PointMaker,
    simulated: InProcessRig,
) -> None:
    moved = [record.time.reading(reading) for reading in readings]
    for reading in moved:
        guard.see(reading)
    record.add_readings(moved)
    now_s = record.time.now_s()
    guard.tick(now_s)
    for command in sweep.step(now_s, moved):
        _do(command, record, points, simulated, now_s)


def _do(
    command: Command, record: RunFolder, points: PointMaker, rig: InProcessRig, now_s: float
) -> None:
    match command:
        case ZeroTaken():
            points.zero = command
        case StepTaken():
            record.take_point(measured_of(points.take(command)), t_s=now_s)
        case TickDecided():
            record.append("tick", t_s=now_s)
        case _:
            tell_rig(command, rig)


def numpy_refit_us() -> float:
    """Microseconds to refit a straight line to a 10 s window of 500 readings, as a yardstick."""
    import numpy as np

    t, y = np.arange(500) * EVERY_S, np.random.default_rng(1).normal(50.0, 0.1, 500)
    began_s = time.perf_counter()
    for _ in range(2000):
        np.polyfit(t, y, 1)
    return (time.perf_counter() - began_s) / 2000 * 1e6


@dataclass(frozen=True, slots=True)
class Measured:
    """What the run and its replay cost."""

    readings: int
    each_us: float
    replay_s: float
    same: bool


def measure(seconds: float) -> Measured:
    """A run of so many seconds on the rig, and its replay."""
    with tempfile.TemporaryDirectory() as folder:
        record, count, spent_s = record_one(Path(folder), seconds)
        began_s = time.perf_counter()
        result = replay(read_run(record.folder))
        replay_s = time.perf_counter() - began_s
    return Measured(count, spent_s / count * 1e6, replay_s, result.same)


def figures(size: Size) -> list[Figure]:
    """Cost of a reading, and the replay."""
    seconds = {"tiny": 30.0, "short": 600.0, "full": 3600.0}[size]
    found = measure(seconds)
    run = f"{seconds:.0f} s of {len(CHANNELS)} channels at 50 Hz"
    return [
        Figure("one reading through record, guard and sweep", found.each_us, "us",
               at_most=TARGET_US),
        Figure(f"replay of {run}", found.replay_s, "s", at_most=TARGET_REPLAY_S,
               note=f"{found.readings} readings"),
        Figure("steady points of the replay that are not the same", float(not found.same),
               at_most=0),
    ]  # fmt: skip


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=float, default=3600.0)
    seconds = parser.parse_args().seconds
    found = measure(seconds)
    count, each_us, refit_us = found.readings, found.each_us, numpy_refit_us()
    print(f"Python {platform.python_version()}, {platform.system()}")
    print(f"{count} readings of {len(CHANNELS)} channels, {seconds:.0f} s on the rig")
    print(f"one reading through guard, record and sweep: {each_us:.1f} us (target {TARGET_US:.0f})")
    print(
        f"refitting a window of 500 with numpy: {refit_us:.0f} us, {refit_us / each_us:.0f} times"
    )
    print(f"replay: {found.replay_s:.1f} s (target {TARGET_REPLAY_S:.0f}), same: {found.same}")


if __name__ == "__main__":
    main()
