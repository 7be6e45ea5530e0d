"""All benchmarks, one after another, each in a process of its own; one table.

    python -m tests.benchmarks                        # short sizes, some ten minutes
    python -m tests.benchmarks --full                 # the sizes of DEVELOPERS.md
    python -m tests.benchmarks --only shelf,replay --markdown --json figures.json

Exit code 1 when a figure is beyond what is asked, or a benchmark could not run.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import json
import os
import platform
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, get_args

from tests.benchmarks.figures import Figure, Size, documents_of, figures_from, table

CHECKOUT = Path(__file__).parent.parent.parent
BENCHMARKS = (
    "stop_latency",
    "throughput",
    "one_hour",
    "replay",
    "settling_cost",
    "curve_fit",
    "start_up",
    "report",
    "screens",
    "shelf",
    "settling",
    "settling_coverage",
    "findings",
    "endurance",
    "fuzzing",
    "record_crash",
)
PACKAGES = ("numpy", "scipy", "lmfit", "pyserial", "textual", "SQLAlchemy", "typst")


@dataclass(frozen=True, slots=True)
class Ran:
    """What one benchmark gave."""

    name: str
    figures: list[Figure]
    took_s: float
    failure: str = ""
    """Why it gave nothing."""


def figures_of(name: str, size: Size) -> list[Figure]:
    """Run a benchmark in this process."""
    module = importlib.import_module(f"tests.benchmarks.{name}")
    found: list[Figure] = module.figures(size)
    return found


def run(name: str, size: Size) -> Ran:
    """Run a benchmark in a process of its own."""
    began_s = time.monotonic()
    command = [sys.executable, "-m", "tests.benchmarks", "--one", name, "--size", size]
    ran = subprocess.run(command, cwd=CHECKOUT, capture_output=True, text=True, encoding="utf-8")
    took_s = time.monotonic() - began_s
    if ran.returncode:
        return Ran(name, [], took_s, ran.stderr.strip() or f"exit code {ran.returncode}")
    return Ran(name, figures_from(json.loads(ran.stdout.splitlines()[-1])), took_s)


def _one(name: str, size: Size) -> int:
    """In the child: its figures as one line of JSON; all else it prints goes to stderr."""
    with contextlib.redirect_stdout(sys.stderr):
        found = figures_of(name, size)
    print(json.dumps(documents_of(found)))
    return 0


def machine() -> dict[str, str]:
    """On what it was measured."""
    return {
        "date": datetime.now(UTC).date().isoformat(),
        "system": platform.platform(),
        "processor": _processor(),
        "cores": str(os.cpu_count()),
        "memory": _memory(),
        "Python": platform.python_version(),
        **{package: _version(package) for package in PACKAGES},
    }


def _processor() -> str:
    with contextlib.suppress(OSError):
        for line in Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    return platform.processor() or platform.machine()


def _memory() -> str:
    try:
        size = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    except (AttributeError, ValueError, OSError):
        return "not known"
    return f"{size / 2**30:.1f} GiB"


def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "not installed"


def document(runs: Sequence[Ran], size: Size, on: dict[str, str]) -> dict[str, Any]:
    """All of it, for a file."""
    return {
        "size": size,
        "machine": on,
        "benchmarks": [
            {
                "name": ran.name,
                "took_s": round(ran.took_s, 1),
                "failure": ran.failure,
                "figures": [
                    {**values, "met": figure.met}
                    for values, figure in zip(documents_of(ran.figures), ran.figures, strict=True)
                ],
            }
            for ran in runs
        ],
    }


def _names(text: str) -> list[str]:
    names = [name.strip() for name in text.split(",") if name.strip()]
    unknown = [name for name in names if name not in BENCHMARKS]
    if unknown or not names:
        raise argparse.ArgumentTypeError(
            f"no benchmark {', '.join(unknown)}: one of {', '.join(BENCHMARKS)}"
        )
    return names


def main(arguments: Sequence[str] | None = None) -> int:
    """Run what is asked for, print the table; 1 when something is not as asked."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--full", action="store_true", help="the sizes of DEVELOPERS.md")
    parser.add_argument("--only", type=_names, default=list(BENCHMARKS), metavar="NAME,...")
    parser.add_argument("--markdown", action="store_true", help="as in DEVELOPERS.md")
    parser.add_argument("--json", type=Path, metavar="FILE", help="keep the figures in a file")
    parser.add_argument("--size", choices=get_args(Size), default="short")
    parser.add_argument("--one", choices=BENCHMARKS, help=argparse.SUPPRESS)
    asked = parser.parse_args(arguments)
    if asked.one:
        return _one(asked.one, asked.size)
    size: Size = "full" if asked.full else asked.size
    runs = []
    for name in asked.only:
        runs.append(run(name, size))
        print(f"{name}: {runs[-1].took_s:.0f} s", file=sys.stderr, flush=True)
    on = machine()
    print(table([figure for ran in runs for figure in ran.figures], markdown=asked.markdown))
    print(f"\nSize {size}; " + "; ".join(f"{what} {words}" for what, words in on.items()) + ".")
    for ran in runs:
        if ran.failure:
            print(f"\n{ran.name} gave nothing:\n{ran.failure}", file=sys.stderr)
    if asked.json:
        text = json.dumps(document(runs, size, on), indent=1, ensure_ascii=False)
        asked.json.write_text(text + "\n", encoding="utf-8")
    good = all(not ran.failure and all(f.met is not False for f in ran.figures) for ran in runs)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
