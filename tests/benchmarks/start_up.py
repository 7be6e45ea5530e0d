"""How long the program takes to start, beside a bare Python and one that imports numpy.

    python -m tests.benchmarks.start_up [--size full]

Each start is a child process of its own, all of them in turn, after a round that compiles what is
imported, as an installation has it. Told are medians by the wall clock and of processor time (where
the system counts it for children). The first paint is that of the screens in a pseudo-terminal
(POSIX only), on an empty shelf.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from tests.benchmarks.figures import Figure, Size, table
from tests.benchmarks.side_by_side import in_turn

CHECKOUT = Path(__file__).parent.parent.parent
ROUNDS: dict[Size, int] = {"tiny": 1, "short": 7, "full": 15}
OURS = "from acquire.cli.main import main; main()"
POINTS = "shaft_rpm,amps\r\n1500,44.9\r\n2000,60.2\r\n3000,77.1\r\n6000,90.3\r\n"
PASSED, UNDECIDED = 0, 3
HELP = "steadyamps --help"


@dataclass(frozen=True, slots=True)
class Took:
    """One start, from its beginning to its end."""

    wall_s: float
    cpu_s: float


def start(code: str, *words: str, folder: Path) -> Took:
    """Run Python on `code`."""
    environment = {
        **os.environ,
        **compiled_in(folder),
        "PYTHONPATH": str(CHECKOUT),
        "STEADYAMPS_CONFIG": str(folder),
    }
    began_s, began_cpu_s = time.perf_counter(), _children_cpu_s()
    ran = subprocess.run(
        [sys.executable, "-c", code, *words], env=environment, cwd=folder, capture_output=True
    )
    took = Took(time.perf_counter() - began_s, _children_cpu_s() - began_cpu_s)
    if ran.returncode not in (PASSED, UNDECIDED):
        raise RuntimeError(f"{words}: exit code {ran.returncode}\n{ran.stderr.decode()}")
    return took


def compiled_in(folder: Path) -> dict[str, str]:
    """Environment in which modules are compiled once, into `folder`."""
    return {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": str(folder / "compiled")}


def _children_cpu_s() -> float:
    """Processor time of all children that have ended; 0 where the system does not tell [s]."""
    spent = os.times()
    return spent.children_user + spent.children_system


def starts(folder: Path) -> dict[str, Callable[[], Took]]:
    """What is started."""
    points = folder / "points.csv"
    points.write_bytes(POINTS.encode())
    judge = ("judge", str(points), "--rated", "small-frame-14v-90a")
    ours = {HELP: ("--help",), "sweep --help": ("sweep", "--help"), "judge of a CSV": judge}
    bare = {"python -c pass": "pass", "python, import numpy": "import numpy"}
    return {
        **{name: partial(start, code, folder=folder) for name, code in bare.items()},
        **{name: partial(start, OURS, *words, folder=folder) for name, words in ours.items()},
    }


def first_paint(folder: Path) -> Took:
    """From the start of `steadyamps` to its first page."""
    from tests.screens.terminal import Terminal

    began_s = time.monotonic()
    shelf, environment = str(folder / "shelf"), compiled_in(folder)
    with Terminal("--shelf", shelf, width=120, height=40, environment=environment) as terminal:
        terminal.wait_for("Reading profiles and shelf")
        took = Took(time.monotonic() - began_s, _cpu_s(terminal.process.pid))
        terminal.wait_for("[q]uit")
        terminal.press("q")
        terminal.end()
    return took


def _cpu_s(process: int) -> float:
    """Processor time of a process that runs; 0 where there is no /proc [s]."""
    stat = Path(f"/proc/{process}/stat")
    if not stat.exists():
        return 0.0
    ticks = sum(map(int, stat.read_text().rpartition(")")[2].split()[11:13]))
    return ticks / os.sysconf("SC_CLK_TCK")


def figures(size: Size) -> list[Figure]:
    """Medians by the wall clock, processor time beside them."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        jobs = starts(folder)
        if size == "tiny":
            return [_figure(HELP, [jobs[HELP]()])]
        if hasattr(os, "openpty"):
            jobs["first paint of the screens"] = partial(first_paint, folder)
        in_turn(jobs, 1)
        found = in_turn(jobs, ROUNDS[size])
    return [_figure(name, taken) for name, taken in found.items()]


def _figure(name: str, taken: list[Took]) -> Figure:
    wall_ms, cpu_ms = (
        1000 * statistics.median(column)
        for column in zip(*((one.wall_s, one.cpu_s) for one in taken), strict=True)
    )
    return Figure(f"start-up: {name}", wall_ms, "ms", note=f"{cpu_ms:.0f} ms of processor")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--size", choices=[*ROUNDS], default="full")
    print(table(figures(parser.parse_args().size), markdown=False))


if __name__ == "__main__":
    main()
