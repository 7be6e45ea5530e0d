"""Now and then a real process on real sockets, ended by a real signal."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path
from random import Random

from acquire.record.read_run import read_run
from acquire.record.verify import verify
from acquire.replay import replay
from tests.endurance.judged import Breach
from tests.live.commands import CHECKOUT, command_line, environment, runs_on
from tests.live.served import PACE, Served, served

SIGNALS = ("SIGKILL", "SIGINT", "SIGTERM", "SIGHUP")
POSSIBLE = os.name == "posix"
UNIT = "small-frame-14v-90a"
STOP_WALL_S = 4.0 / PACE + 3.0
"""The drive's own time-out at this pace, and what a busy computer adds [s]."""
WAIT_S = 90.0


@dataclass
class RealEnd:
    """How it went."""

    name: str
    stop_s: float | None
    """Wall seconds from the signal to the drive off."""
    breaches: list[Breach]
    rig_s: float = 0.0


def end_a_real_process(shelf: Path, folder: Path, chance: Random) -> RealEnd:
    """Run a sweep in a process of its own, send a signal at a random instant, and resume."""
    name = chance.choice(SIGNALS)
    end = RealEnd(name, None, [])
    began_s = time.monotonic()
    before = {run.name for run in runs_on(shelf)}
    with served(folder) as rig:
        process = _started(rig, shelf)
        try:
            _until_it_runs(rig, process)
            time.sleep(chance.uniform(0.0, 12.0))
            process.send_signal(getattr(signal, name))
            sent_s = time.monotonic()
            while rig.told_to_run and time.monotonic() - sent_s < STOP_WALL_S:
                time.sleep(0.005)
            end.stop_s = time.monotonic() - sent_s
            if rig.told_to_run:
                end.breaches.append(Breach("drive left running", f"after a real {name}"))
            process.communicate(timeout=WAIT_S)
        finally:
            if process.poll() is None:
                process.kill()
                process.communicate()
        runs = [run for run in runs_on(shelf) if run.name not in before]
        end.breaches += _looked_at(name, runs, shelf)
    end.rig_s = (time.monotonic() - began_s) * PACE
    return end


def _started(rig: Served, shelf: Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        command_line("--shelf", str(shelf), "sweep", "--rig", str(rig.rig_file), "--rated", UNIT,
                     "--yes"),
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True,
        cwd=CHECKOUT, env=environment(), start_new_session=True,
    )  # fmt: skip


def _until_it_runs(rig: Served, process: subprocess.Popen[str]) -> None:
    deadline_s = time.monotonic() + WAIT_S
    while not rig.told_to_run and process.poll() is None and time.monotonic() < deadline_s:
        time.sleep(0.02)


def _looked_at(name: str, runs: list[Path], shelf: Path) -> list[Breach]:
    if len(runs) != 1:
        return [Breach("unaccounted run", f"{len(runs)} runs after a real {name}")]
    found = []
    run = read_run(runs[0])
    rows = [row.measured_text for row in run.curve]
    if run.header.state != "running" and not verify(runs[0]).sealed:
        found.append(Breach("seal", f"{runs[0]} after a real {name}"))
    if run.header.state != "complete":
        again = command_line("--shelf", str(shelf), "resume", str(runs[0]), "--yes")
        done = subprocess.run(
            again, capture_output=True, text=True, cwd=CHECKOUT, env=environment(), check=False,
            stdin=subprocess.DEVNULL, timeout=2 * WAIT_S,
        )  # fmt: skip
        if done.returncode != 0:
            found.append(Breach("resume", f"{runs[0]}: {done.returncode}: {done.stderr[-300:]}"))
    run = read_run(runs[0])
    there = [row.measured_text for row in run.curve]
    found += [Breach("lost point", f"{runs[0]}: {row}") for row in rows if row not in there]
    if not replay(run).same:
        found.append(Breach("replay", str(runs[0])))
    return found
