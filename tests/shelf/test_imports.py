"""The database is only loaded where it is used."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).parent.parent.parent


@pytest.mark.parametrize(
    "code",
    [
        "from acquire.cli.main import run; run(['shelf', '--help'])",
        "import acquire.shelf.note_run",
        "import acquire.shelf.entry, acquire.shelf.pairs, acquire.shelf.wanted",
    ],
)
def test_help_the_hook_and_the_values_load_no_database(code: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys\nprint('\\n' + ' '.join(sys.modules))"],
        capture_output=True, text=True, check=True, cwd=CHECKOUT,
    )  # fmt: skip
    loaded = set(done.stdout.splitlines()[-1].split())
    assert loaded & {"sqlalchemy", "psycopg", "xlsxwriter", "sqlite3"} == set()
    assert "acquire.shelf" in loaded or "acquire.cli.shelf_commands" in loaded
