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
from typing import Any

from drivers.bench_wiring import BenchWiring
from drivers.simulated.service import SimulatedService
from profiles.catalogue import load_rig, rig_from, snapshot

LOOK_EVERY_S = 0.2
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


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=float, default=3600.0)
    parser.add_argument("--pace", type=float, default=20.0)
    wanted = parser.parse_args()
    service = SimulatedService(pace=wanted.pace)
    service.start()
    wiring = BenchWiring(full_rig(service), service.clock)
    try:
        wiring.open(5.0)
        _watch(service, wiring, wanted.seconds, wanted.pace)
    finally:
        wiring.close()
        service.close()


def _watch(service: SimulatedService, wiring: BenchWiring, seconds: float, pace: float) -> None:
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
    statistics = wiring.statistics().values()
    print(f"Python {platform.python_version()}, {platform.system()}; pace {pace:g}")
    print(f"{seconds:.0f} s on the rig, {len(counted)} channels: {sum(counted.values())} readings")
    for channel, count in sorted(counted.items()):
        print(f"  {channel:<14} {count:7d}  {count / seconds:5.1f} a second")
    print(
        f"sent {sum(s.sent for s in statistics)}, received {sum(s.received for s in statistics)},"
        f" timeouts {sum(s.timeouts for s in statistics)}, bad {sum(s.bad for s in statistics)},"
        f" polls skipped {sum(s.skipped for s in statistics)},"
        f" not usable {spoiled}, dropped {wiring.readings.dropped}"
    )
    for at_s, size, threads in marks:
        print(f"  at {at_s:6.0f} s: {size / 1e6:6.2f} MB of Python objects, {threads} threads")


if __name__ == "__main__":
    main()
