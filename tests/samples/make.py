"""Make the sample runs again: complete sealed runs of invented jobs, from the simulated rig.

    python -m tests.samples.make [--into sample_runs]

Every run is made by the program's own commands, as a user would; the folders get fixed names.
"""

from __future__ import annotations

import argparse
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

CHECKOUT = Path(__file__).parents[2]
START = (
    "import platform, sys; platform.node = lambda: 'bench-1'; "
    "from acquire.cli.main import run; sys.exit(run(sys.argv[1:]))"
)
UNIT = "small-frame-14v-90a"


@dataclass(frozen=True)
class Sample:
    """One run: its folder, what is typed, and the exit code it must end with."""

    name: str
    arguments: tuple[str, ...]
    code: int
    stop_after_points: int | None = None
    """Interrupted by Ctrl-C after so many steady points, then resumed."""


SAMPLES = (
    Sample(
        "pass-van-alternator",
        ("--rig", "simulated", "--rated", UNIT, "--job", "J-2101", "--serial", "SF90-0417",
         "--unit", "14 V 90 A, van", "--stage", "incoming"),
        0,
    ),
    Sample(
        "warranty-before-open-diode",
        ("--rig", "simulated", "--rated", UNIT, "--job", "J-2107", "--serial", "SF90-0093",
         "--unit", "14 V 90 A, harbour launch", "--stage", "before", "--fault", "open-diode"),
        1,
    ),
    Sample(
        "warranty-after-rebuild",
        ("--rig", "simulated", "--rated", UNIT, "--job", "J-2107", "--serial", "SF90-0093",
         "--unit", "14 V 90 A, harbour launch", "--stage", "after", "--method", "warm"),
        0,
    ),
    Sample(
        "undecided-digger",
        ("--rig", "simulated-24", "--rated", "small-frame-28v-80a", "--job", "J-2112",
         "--serial", "SF28-0230", "--unit", "28 V 80 A, digger", "--steps", "1500,6000"),
        3,
    ),
    Sample(
        "stopped-and-resumed",
        ("--rig", "simulated", "--rated", "mid-frame-14v-120a", "--job", "J-2115",
         "--serial", "MF120-0012", "--unit", "14 V 120 A, camper"),
        0,
        stop_after_points=2,
    ),
    Sample(
        "aboard-by-throttle",
        ("--rig", "simulated-aboard", "--rated", UNIT, "--job", "J-2120", "--serial", "SF90-0555",
         "--unit", "14 V 90 A, sailing boat", "--stage", "aboard"),
        0,
    ),
)  # fmt: skip


def make(into: Path) -> None:
    """Make every sample; what was there under its name is replaced."""
    with tempfile.TemporaryDirectory() as folder:
        for sample in SAMPLES:
            made = _made(sample, Path(folder) / sample.name)
            target = into / sample.name
            shutil.rmtree(target, ignore_errors=True)
            shutil.move(made, target)
            print(f"{sample.name}: {made.name}")


def _made(sample: Sample, shelf: Path) -> Path:
    arguments = ["sweep", *sample.arguments, "--operator", "T. Example", "--yes"]
    if sample.stop_after_points is not None:
        _interrupted(arguments, shelf, sample.stop_after_points)
        (run,) = shelf.iterdir()
        arguments = ["resume", str(run), "--yes"]
    done = subprocess.run(
        _command(arguments, shelf), cwd=CHECKOUT, env=_environment(shelf), check=False,
        stdin=subprocess.DEVNULL, capture_output=True, text=True,
    )  # fmt: skip
    if done.returncode != sample.code:
        raise RuntimeError(f"{sample.name}: exit {done.returncode}\n{done.stdout}\n{done.stderr}")
    (run,) = shelf.iterdir()
    return run


def _interrupted(arguments: list[str], shelf: Path, points: int) -> None:
    process = subprocess.Popen(
        _command(arguments, shelf), cwd=CHECKOUT, env=_environment(shelf),
        stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    while process.poll() is None:
        time.sleep(0.02)
        curves = list(shelf.glob("*/curve.csv"))
        if curves and curves[0].read_text().count("\n") > points:
            process.send_signal(signal.SIGINT)
            process.wait()


def _command(arguments: list[str], shelf: Path) -> list[str]:
    return [sys.executable, "-c", START, "--shelf", str(shelf), *arguments]


def _environment(shelf: Path) -> dict[str, str]:
    return {**os.environ, "STEADYAMPS_CONFIG": str(shelf.parent / "no settings")}


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--into", type=Path, default=CHECKOUT / "sample_runs")
    make(parser.parse_args().into)
