"""What the papers of a run cost: HTML and PDF of a sample run, in processor time.

    python -m tests.benchmarks.report [--size full]

Each time is that of a process of its own. "Whole command" is `steadyamps report RUN --out DIR`
with the start of the program; "HTML and PDF" is the writing alone, the renderer's loading within.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
import time
from functools import partial
from pathlib import Path

from tests.benchmarks.figures import Figure, Size, table
from tests.benchmarks.side_by_side import in_turn
from tests.benchmarks.start_up import CHECKOUT, OURS, start

RUN = CHECKOUT / "sample_runs" / "pass-van-alternator"
ROUNDS: dict[Size, int] = {"tiny": 1, "short": 5, "full": 15}
MOST_S = 1.0
WRITE = "from tests.benchmarks.report import write_here; write_here()"


def write_here() -> None:
    """Write the papers once, then again; print the processor time of both [s]."""
    from acquire.report.write import write_papers
    from profiles.settings import Settings

    spent_s = []
    with tempfile.TemporaryDirectory() as out:
        for _ in range(2):
            began_s = time.process_time()
            written = write_papers(RUN, Path(out), settings=Settings())
            spent_s.append(time.process_time() - began_s)
            assert {path.suffix for path in written.files} == {".html", ".pdf"}
    print(json.dumps(spent_s))


def written() -> list[float]:
    """First and second time in a process of its own [s]."""
    ran = subprocess.run(
        [sys.executable, "-c", WRITE], cwd=CHECKOUT, capture_output=True, text=True, check=True
    )
    spent_s: list[float] = json.loads(ran.stdout.splitlines()[-1])
    return spent_s


def command(folder: Path) -> list[float]:
    """The whole command [s]."""
    words = ("report", str(RUN), "--out", str(folder / "papers"))
    return [start(OURS, *words, folder=folder).cpu_s]


def figures(size: Size) -> list[Figure]:
    """Medians of processor time."""
    with tempfile.TemporaryDirectory() as name:
        jobs = {"writing": written}
        if size != "tiny":
            jobs["command"] = partial(command, Path(name))
            command(Path(name))  # compiles what is imported, as an installation has it
        found = in_turn(jobs, ROUNDS[size])
    first_s, again_s = (statistics.median(column) for column in zip(*found["writing"], strict=True))
    unit = "s of processor"
    told = [
        Figure("report of a run, HTML and PDF", first_s, unit, at_most=MOST_S),
        Figure("report, again in the same process", again_s, unit),
    ]
    if size != "tiny":
        whole_s = statistics.median(spent_s for (spent_s,) in found["command"])
        told.append(Figure("report, whole command with its start", whole_s, unit))
    return told


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--size", choices=[*ROUNDS], default="full")
    print(table(figures(parser.parse_args().size), markdown=False))


if __name__ == "__main__":
    main()
