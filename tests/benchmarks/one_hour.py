"""One hour on the rig with nine channels at full rate: sent, received, dropped, memory.

    python -m tests.benchmarks.one_hour [--seconds 3600] [--pace 20]

The simulated rig serves over sockets in this process; nothing is mocked between the bytes and the
reading queue. Seconds are seconds on the rig.
"""

from __future__ import annotations

import argparse
import gc
import platform
import threading
import tracemalloc
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from drivers.bench_wiring import BenchWiring
from drivers.simulated.service import SimulatedService
from drivers.statistics import PortStatistics
from profiles.catalogue import load_rig, rig_from, snapshot
from tests.benchmarks.figures import Figure, Size

LOOK_EVERY_S = 0.2
PACE = 20.0
MOST_GROWN_MB = 0.5
MORE = {
    "battery_volts": "battery voltmeter",
    "ripple_volts": "ripple meter",
    "field_volts": "field voltmeter",
}


def full_rig(service: SimulatedService) -> Any:
    """The shipped rig and three more meters."""
    values = snapshot(load_rig("simulated").profile)
    meter = {"driver": "scpi", "query": "MEAS:VOLT:DC?", "timeout_s": 2.0}
    for channel, name in MORE.items():
        values["channels"][channel] = {**meter, "port": service.address(name)}
        if channel == "ripple_volts":
            values["channels"][channel]["query"] = "MEAS:VOLT:AC?"
    return service.filled_rig(rig_from(values, "one hour"))


@dataclass(frozen=True, slots=True)
class Watched:
    """What was seen of a rig at full rate."""

    counted: Counter[str]
    """Readings of each channel."""
    spoiled: int
    """Readings of those that are not ok."""
    dropped: int
    statistics: Sequence[PortStatistics]
    marks: Sequence[tuple[float, int, int]]
    """Run time [s], bytes of Python objects, threads; from time to time."""

    @property
    def grown_mb(self) -> float:
        """Memory at the end beyond that of the second mark, when all is running [MB]."""
        return (self.marks[-1][1] - self.marks[min(1, len(self.marks) - 1)][1]) / 1e6


def watch(seconds: float, pace: float) -> Watched:
    """Run a rig for so many seconds of its own time."""
    service = SimulatedService(pace=pace)
    service.start()
    wiring = BenchWiring(full_rig(service), service.clock)
    try:
        wiring.open(5.0)
        return _watched(service, wiring, seconds)
    finally:
        tracemalloc.stop()
        wiring.close()
        service.close()


def _watched(service: SimulatedService, wiring: BenchWiring, seconds: float) -> Watched:
    if wiring.drive is not None:
        wiring.drive.run()
        wiring.drive.set_shaft_rpm(3000.0)
    counted: Counter[str] = Counter()
    spoiled = 0
    tracemalloc.start()
    began_s = service.clock.monotonic_s()
    marks: list[tuple[float, int, int]] = []
    while (at_s := service.clock.monotonic_s() - began_s) < seconds:
        for reading in wiring.readings.take(LOOK_EVERY_S):
            counted[reading.channel] += 1
            spoiled += not reading.usable
        if not marks or at_s - marks[-1][0] >= seconds / 6:
            gc.collect()
            marks.append((at_s, tracemalloc.get_traced_memory()[0], threading.active_count()))
    statistics = list(wiring.statistics().values())
    return Watched(counted, spoiled, wiring.readings.dropped, statistics, marks)


def figures(size: Size) -> list[Figure]:
    """Dropped, not usable, and memory."""
    seconds = {"tiny": 10.0, "short": 600.0, "full": 3600.0}[size]
    seen = watch(seconds, PACE)
    head = f"{seconds:.0f} s with {len(seen.counted)} channels at full rate:"
    note = f"of {sum(seen.counted.values())}"
    return [
        Figure(f"{head} readings dropped", seen.dropped, at_most=0, note=note),
        Figure(f"{head} readings not usable", seen.spoiled, at_most=0, note=note),
        Figure(f"{head} memory grown", seen.grown_mb, "MB", at_most=MOST_GROWN_MB),
    ]


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=float, default=3600.0)
    parser.add_argument("--pace", type=float, default=PACE)
    wanted = parser.parse_args()
    seen, seconds = watch(wanted.seconds, wanted.pace), wanted.seconds
    counted, ports = seen.counted, seen.statistics
    print(f"Python {platform.python_version()}, {platform.system()}; pace {wanted.pace:g}")
    print(f"{seconds:.0f} s on the rig, {len(counted)} channels: {sum(counted.values())} readings")
    for channel, count in sorted(counted.items()):
        print(f"  {channel:<14} {count:7d}  {count / seconds:5.1f} a second")
    print(
        f"sent {sum(s.sent for s in ports)}, received {sum(s.received for s in ports)},"
        f" timeouts {sum(s.timeouts for s in ports)}, bad {sum(s.bad for s in ports)},"
        f" polls skipped {sum(s.skipped for s in ports)},"
        f" not usable {seen.spoiled}, dropped {seen.dropped}"
    )
    for at_s, size, threads in seen.marks:
        print(f"  at {at_s:6.0f} s: {size / 1e6:6.2f} MB of Python objects, {threads} threads")


if __name__ == "__main__":
    main()
