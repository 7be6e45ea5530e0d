"""Start-up stays quick, and the core never reaches for screens and command line."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).parent.parent.parent
HEAVY = (
    "numpy", "scipy", "pydantic", "textual", "rich", "serial", "pyvisa", "cryptography",
    "sqlalchemy", "psycopg", "xlsxwriter", "typst",
)  # fmt: skip
HELP = "from acquire.cli.main import run; run(['--help'])"


def modules_after(code: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys\nprint('\\n' + ' '.join(sys.modules))"],
        capture_output=True, text=True, check=True, cwd=CHECKOUT,
    )  # fmt: skip
    return {name.partition(".")[0] for name in done.stdout.splitlines()[-1].split()}


def test_help_imports_none_of_the_heavy_packages() -> None:
    assert modules_after(HELP) & set(HEAVY) == set()


@pytest.mark.parametrize(
    "module",
    ["acquire.sweep.sweep", "acquire.guard", "acquire.stop_path", "acquire.bench", "acquire.replay",
     "acquire.judging", "drivers.bench_wiring", "profiles.catalogue"],
)  # fmt: skip
def test_the_core_reaches_for_no_screen_and_no_command_line(module: str) -> None:
    loaded = modules_after(f"import {module}")
    assert loaded & {"textual", "rich", "typer", "matplotlib"} == set()


@pytest.mark.parametrize("module", ["acquire.sweep.sweep", "acquire.guard", "drivers.bench_wiring"])
def test_what_runs_a_sweep_starts_without_scipy(module: str) -> None:
    assert "scipy" not in modules_after(f"import {module}")


def test_no_module_has_grown_beyond_five_hundred_lines() -> None:
    long = {
        str(path.relative_to(CHECKOUT)): lines
        for folder in ("acquire", "drivers", "profiles")
        for path in (CHECKOUT / folder).rglob("*.py")
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > 500
    }
    assert long == {}
