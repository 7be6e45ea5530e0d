"""Running the program's commands as a user would, in a process of their own or in this one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from acquire.record.read_run import read_run
from acquire.replay import replay

CHECKOUT = Path(__file__).parent.parent.parent
WAIT_S = 240.0
START = "import sys; from acquire.cli.main import run; sys.exit(run(sys.argv[1:]))"


@dataclass(frozen=True)
class Said:
    """What a command said, and how it ended."""

    code: int
    out: str
    err: str

    @property
    def document(self) -> dict[str, Any]:
        """The JSON document on stdout."""
        found = json.loads(self.out)
        assert isinstance(found, dict)
        return found


def command_line(*arguments: str) -> list[str]:
    """How the program is started in a process of its own."""
    return [sys.executable, "-W", "error", "-c", START, *arguments]


def steadyamps(*arguments: str, shelf: Path, typed: str | None = None) -> Said:
    """Run one command to its end; every run it leaves is replayed and must come out the same."""
    done = subprocess.run(
        command_line("--shelf", str(shelf), *arguments),
        capture_output=True,
        text=True,
        input=typed if typed is not None else "",
        cwd=CHECKOUT,
        env=environment(),
        timeout=WAIT_S,
        check=False,
    )
    replay_all(shelf)
    return Said(done.returncode, done.stdout, done.stderr)


def environment() -> dict[str, str]:
    """The test's own environment (its settings folder among it)."""
    return {**os.environ, "PYTHONIOENCODING": "utf-8"}


def runs_on(shelf: Path) -> list[Path]:
    """The run folders on a shelf, oldest first."""
    if not shelf.is_dir():
        return []
    return sorted(path for path in shelf.iterdir() if path.is_dir() and path.name[0] != ".")


def replay_all(shelf: Path) -> None:
    """Every run on the shelf gives the same steady points from its raw samples."""
    for folder in runs_on(shelf):
        result = replay(read_run(folder))
        assert result.same, (folder, result.differences)
