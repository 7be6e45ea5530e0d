"""What reading costs, end to end, beside a bare pyserial loop that reads and parses the same lines.

    python -m tests.benchmarks.throughput [--seconds 5] [--rounds 3]

Compared are processor seconds for one reading, of the reading process alone and all its threads;
the instrument is a process of its own on the other end of a pseudo-terminal (POSIX only). It talks
at 50, 200 and 1000 lines a second or as quickly as its lines are taken, or answers questions. The
three read at the same time, each its own instrument, for what waking costs changes from minute to
minute; only where lines come as quickly as they are taken they read in turn.

* ours: a whole run without a screen. Port thread, lines, queue, guard, record on the disk with its
  sync each second, sweep in a step whose current never settles, with prediction at work. What of
  it the port's thread takes (from the wire to the queue) is told besides.
* bare: one loop with a `serial.Serial`: wait for bytes, take what is there, cut it into lines,
  match the pattern, make a float. Nothing is stored, checked, timed or watched.
* readline: the same with `Serial.readline`, as most small programs have it.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import platform
import random
import re
import select
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from tests.benchmarks.figures import Figure, Size
from tests.benchmarks.side_by_side import at_once, in_turn, times

if TYPE_CHECKING:
    from acquire.bench import Bench

CHECKOUT = Path(__file__).parent.parent.parent
MOST_TIMES_BARE = 2.0
WARM_UP_S = 3.0
"""Once the speed is held: until everything is imported [s]."""
LEAST_WARM_UP_S = 0.3
HELD_WITHIN_S = 60.0
"""The program calls a speed held after a second and a half, later on a busy machine [s]."""
SHAFT_RPM = 3000.0
AMPS_PATTERN = r"I=(?P<value>\d+\.\d{3}) A"
SHAFT_PATTERN = r"N=(?P<value>\d+\.\d) rpm"
SHAFT_EVERY_S = 0.2
BAUD = 115_200
QUESTION = b"I?"
READERS = ("ours", "bare", "readline")


@dataclass(frozen=True, slots=True)
class Talk:
    """How the instrument talks: so many lines or questions a second; 0 = as quickly as it goes."""

    name: str
    per_s: float
    asked: bool = False


TALKS = (
    Talk("50 lines a second", 50.0),
    Talk("200 lines a second", 200.0),
    Talk("1000 lines a second", 1000.0),
    Talk("lines as quickly as taken", 0.0),
    Talk("50 questions a second", 50.0, asked=True),
    Talk("200 questions a second", 200.0, asked=True),
)


@dataclass(frozen=True, slots=True)
class Cost:
    """What a reader used in the time that was counted."""

    readings: int
    cpu_s: float
    wall_s: float
    port_cpu_s: float = 0.0
    """What of it the thread of the port took."""
    dropped: int = 0
    """Readings that nobody took in time; only where lines come as quickly as they are taken."""

    @property
    def port_us(self) -> float:
        """Processor time of one reading from the wire to the queue [microseconds]."""
        return self.port_cpu_s / max(self.readings, 1) * 1e6

    @property
    def us(self) -> float:
        """Processor time of one reading [microseconds]."""
        return self.cpu_s / max(self.readings, 1) * 1e6


# ---- the instrument, in its own process ------------------------------------------------------


def amps_lines(count: int = 4096) -> list[bytes]:
    """Noise around 60 A: too much to be called steady."""
    chance = random.Random(7)
    return [f"I={60.0 + chance.gauss(0.0, 4.0):.3f} A\n".encode() for _ in range(count)]


def be_instrument(controller: int, per_s: float, *, asked: bool) -> None:
    """Talk, or answer, until the terminal goes away."""
    with contextlib.suppress(OSError):
        _answer(controller) if asked else _talk(controller, per_s)


def _talk(controller: int, per_s: float) -> None:
    lines, shaft = amps_lines(), f"N={SHAFT_RPM:.1f} rpm\n".encode()
    batch = 1 if per_s else 32
    sent, next_s, shaft_s = 0, time.monotonic(), 0.0
    while True:
        now_s = time.monotonic()
        if now_s - shaft_s >= SHAFT_EVERY_S:
            shaft_s = now_s
            _write(controller, shaft)
        at = sent % len(lines)
        _write(controller, b"".join(lines[at : at + batch]))
        sent += batch
        if per_s:
            next_s += 1 / per_s
            time.sleep(max(next_s - time.monotonic(), 0.0))


def _answer(controller: int) -> None:
    lines, shaft = amps_lines(), f"N={SHAFT_RPM:.1f} rpm\n".encode()
    held, sent = b"", 0
    while True:
        select.select([controller], [], [])
        held += os.read(controller, 4096)
        *questions, held = held.split(b"\n")
        for question in questions:
            _write(controller, lines[sent % len(lines)] if question == QUESTION else shaft)
            sent += 1


def _write(controller: int, data: bytes) -> None:
    while data:
        data = data[os.write(controller, data) :]


# ---- the readers, each in a process of its own -----------------------------------------------


def count(
    readings: Callable[[], int],
    seconds: float,
    work: Callable[[float], None],
    warm_up_s: float,
) -> Cost:
    """Cost of `work` over `seconds`, once it has warmed up; `readings` says how many so far."""
    work(warm_up_s)
    already, began_s = readings(), time.monotonic()
    began_cpu_s, began_port_s = time.process_time(), _port_cpu_s()
    work(seconds)
    return Cost(
        readings=readings() - already,
        cpu_s=time.process_time() - began_cpu_s,
        wall_s=time.monotonic() - began_s,
        port_cpu_s=_port_cpu_s() - began_port_s,
    )


def warm_up_s(seconds: float) -> float:
    """The same for all readers, so that they are counted over the same time [s]."""
    return WARM_UP_S if seconds >= 1 else LEAST_WARM_UP_S


def _port_cpu_s() -> float:
    """Processor time of the threads of ports in this process [s]."""
    threads = [one for one in threading.enumerate() if one.name.startswith("port ")]
    clocks = [time.pthread_getcpuclockid(one.ident) for one in threads if one.ident is not None]
    return sum(map(time.clock_gettime, clocks))


def read_bare(terminal: str, talk: Talk, seconds: float, *, by_line: bool) -> Cost:
    """A loop on a serial port."""
    import serial

    amps, shaft = re.compile(AMPS_PATTERN, re.ASCII), re.compile(SHAFT_PATTERN, re.ASCII)
    latest: dict[str, float] = {}
    taken, held = 0, b""
    next_s, shaft_s = time.monotonic(), 0.0

    def parse(line: str) -> None:
        nonlocal taken
        if (match := amps.fullmatch(line)) is not None:
            latest["amps"] = float(match["value"])
            taken += 1
        elif (match := shaft.fullmatch(line)) is not None:
            latest["shaft_rpm"] = float(match["value"])
            taken += 1

    def take() -> None:
        nonlocal held
        if by_line:
            parse(port.readline().decode("latin-1").rstrip("\r\n"))
            return
        *lines, held = (held + port.read(port.in_waiting or 1)).split(b"\n")
        for line in lines:
            parse(line.decode("latin-1"))

    def listen(for_s: float) -> None:
        until_s = time.monotonic() + for_s
        while time.monotonic() < until_s:
            take()

    def ask(for_s: float) -> None:
        nonlocal next_s, shaft_s
        until_s = time.monotonic() + for_s
        while (now_s := time.monotonic()) < until_s:
            time.sleep(max(next_s - now_s, 0.0))
            next_s += 1 / talk.per_s
            port.write(QUESTION + b"\n")
            answered = taken
            while taken == answered:
                take()
            if next_s - shaft_s >= SHAFT_EVERY_S:
                shaft_s = next_s
                port.write(b"N?\n")
                while taken == answered + 1:
                    take()

    with serial.Serial(terminal, BAUD, timeout=0.5) as port:
        return count(lambda: taken, seconds, ask if talk.asked else listen, warm_up_s(seconds))


def read_ours(terminal: str, talk: Talk, seconds: float) -> Cost:
    """A whole run on that port, without a screen."""
    from acquire.live_run import LiveRun
    from acquire.run_order import RunOrder
    from profiles.catalogue import Loaded, rig_from
    from profiles.method import Method
    from profiles.rig import Rig

    line = {"driver": "lines", "port": terminal, "baud": BAUD}
    amps = {**line, "pattern": AMPS_PATTERN}
    shaft = {**line, "pattern": SHAFT_PATTERN}
    if talk.asked:
        amps |= {"query": QUESTION.decode(), "every_s": 1 / talk.per_s}
        shaft |= {"query": "N?", "every_s": SHAFT_EVERY_S}
    values = {"title": "Throughput", "channels": {"amps": amps, "shaft_rpm": shaft}}
    method = {"title": "One long step", "sweep": {"rpm": [SHAFT_RPM]}, "settle": {"give_up_s": 9e3}}
    order = RunOrder(
        rig=Loaded(rig_from(values, "throughput"), None, "", "file"),
        method=Loaded(Method.model_validate(method), None, "", "file"),
    )
    assert isinstance(order.rig.profile, Rig)
    with tempfile.TemporaryDirectory() as shelf, LiveRun(order, shelf=Path(shelf)) as run:
        wiring = run.open()
        bench = run.begin({})
        record = run.record
        assert record is not None
        _wait_until_held(bench)
        cost = count(lambda: record.sample_rows, seconds, time.sleep, warm_up_s(seconds))
        assert bench.failure is None, bench.failure
        assert bench.sweep.phase.name == "holding", bench.sweep.phase.name
        dropped = wiring.readings.dropped
        assert not (dropped and talk.per_s), f"dropped {dropped}"
        return replace(cost, dropped=dropped)


def _wait_until_held(bench: Bench) -> None:
    give_up_s = time.monotonic() + HELD_WITHIN_S
    while bench.sweep.phase.name != "holding":
        assert bench.failure is None, bench.failure
        assert time.monotonic() < give_up_s, bench.sweep.phase.name
        time.sleep(0.05)


def be_reader(reader: str, terminal: str, talk: Talk, seconds: float) -> None:
    """The reader of that name; prints what it cost."""
    if reader == "ours":
        cost = read_ours(terminal, talk, seconds)
    else:
        cost = read_bare(terminal, talk, seconds, by_line=reader == "readline")
    print(json.dumps(asdict(cost)))


# ---- both joined -----------------------------------------------------------------------------


@contextlib.contextmanager
def instrument(talk: Talk) -> Iterator[str]:
    """The name of a terminal on which an instrument talks."""
    import tty

    controller, terminal = os.openpty()
    tty.setraw(terminal)
    code = f"be_instrument({controller}, {talk.per_s}, asked={talk.asked})"
    process = subprocess.Popen(_python(code), cwd=CHECKOUT, pass_fds=(controller,))
    try:
        yield os.ttyname(terminal)
    finally:
        process.kill()
        process.wait()
        os.close(controller)
        os.close(terminal)


def _python(code: str) -> list[str]:
    return [sys.executable, "-c", f"from tests.benchmarks.throughput import *; {code}"]


def measure(reader: str, talk: Talk, seconds: float) -> Cost:
    """One reader on one instrument, each in a process of its own."""
    with instrument(talk) as terminal:
        code = f"be_reader({reader!r}, {terminal!r}, {talk!r}, {seconds})"
        ran = subprocess.run(_python(code), cwd=CHECKOUT, capture_output=True, text=True)
    if ran.returncode:
        raise RuntimeError(f"the reader '{reader}' failed:\n{ran.stderr}")
    return Cost(**json.loads(ran.stdout.splitlines()[-1]))


def side_by_side(talk: Talk, seconds: float, rounds: int) -> dict[str, list[Cost]]:
    """All readers at once, or in turn where one alone fills the machine; so many rounds."""
    jobs = {name: partial(measure, name, talk, seconds) for name in READERS}
    return (at_once if talk.per_s else in_turn)(jobs, rounds)


def times_than(costs: dict[str, list[Cost]], than: str) -> float:
    """How many times as much ours takes."""
    return times([cost.us for cost in costs["ours"]], [cost.us for cost in costs[than]])


def median_us(costs: list[Cost]) -> float:
    """Processor time of one reading [microseconds]."""
    return statistics.median(cost.us for cost in costs)


def per_s(costs: list[Cost]) -> float:
    """Readings a second."""
    return statistics.median(cost.readings / cost.wall_s for cost in costs)


def figures(size: Size) -> list[Figure]:
    """Cost of a reading, and how many times that of the bare loops."""
    if not hasattr(os, "openpty"):
        return []
    seconds = {"tiny": 0.2, "short": 2.0, "full": 5.0}[size]
    talks = TALKS[2:3] if size == "tiny" else TALKS
    told: list[Figure] = []
    for talk in talks:
        costs = side_by_side(talk, seconds, rounds=3 if size == "full" else 1)
        ours_us, bare_us, by_line_us = (median_us(costs[reader]) for reader in READERS)
        port_us = statistics.median(cost.port_us for cost in costs["ours"])
        note = f"{ours_us:.0f}, of which port {port_us:.0f}, beside {bare_us:.0f} us"
        asked = MOST_TIMES_BARE if talk.per_s else None
        told += [
            Figure(f"{talk.name}: processor, times a bare loop", times_than(costs, "bare"),
                   at_most=asked, note=note),
            Figure(f"{talk.name}: processor, times a readline loop",
                   times_than(costs, "readline"), note=f"{by_line_us:.0f} us"),
        ]  # fmt: skip
        if not talk.per_s:
            taken, dropped = per_s(costs["ours"]), costs["ours"][-1].dropped
            what = f"{talk.name}: through the whole program"
            told.append(Figure(what, taken, "readings/s", note=f"dropped {dropped}"))
    return told


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=5.0)
    parser.add_argument("--rounds", type=int, default=3)
    wanted = parser.parse_args()
    print(f"Python {platform.python_version()}, {platform.system()}, {os.cpu_count()} cores")
    print("processor time of one reading [us], median of the rounds, and how many a second came")
    heads = "".join(f"{reader:>18}" for reader in READERS)
    print(f"{'':<28}{heads}   port  times bare  readline")
    for talk in TALKS:
        costs = side_by_side(talk, wanted.seconds, wanted.rounds)
        cells = "".join(
            f"{median_us(costs[reader]):>8.1f}{per_s(costs[reader]):>8.0f}/s" for reader in READERS
        )
        than = "".join(f"{times_than(costs, reader):>10.2f}" for reader in READERS[1:])
        port_us = statistics.median(cost.port_us for cost in costs["ours"])
        print(f"{talk.name:<28}{cells}{port_us:>7.1f}  {than}", flush=True)


if __name__ == "__main__":
    main()
