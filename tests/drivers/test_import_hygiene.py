"""Starting up stays quick: heavy libraries come in only where they are used."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
HEAVY = ("serial", "pyvisa", "pymodbus", "numpy", "scipy", "textual", "rich", "typer", "matplotlib")
PROGRAM = f"""
import sys
import drivers.bench_wiring
print(",".join(name for name in {HEAVY!r} if name in sys.modules))
"""


def test_wiring_a_bench_imports_nothing_heavy() -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == ""
