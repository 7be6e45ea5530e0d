"""Runs as a killed program leaves them, made of the shipped sample runs."""

from __future__ import annotations

import shutil
from pathlib import Path

from acquire.record.curve_table import CURVE_FILE
from acquire.record.journal import JOURNAL_FILE, STEADY_POINT
from acquire.record.read_run import read_run
from acquire.record.run_header import RUN_FILE, read_header
from acquire.record.seal import SEAL_FILE
from acquire.record.verdict_file import VERDICT_FILE
from tests.samples.make import CHECKOUT


def killed_after(sample: str, points: int, folder: Path) -> Path:
    """A sample run as it lies there when the program was killed right after a steady point."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    shutil.copytree(CHECKOUT / "sample_runs" / sample, folder)
    taken = [at for at, e in enumerate(read_run(folder).journal) if e.kind == STEADY_POINT]
    lines = (folder / JOURNAL_FILE).read_bytes().splitlines(keepends=True)
    (folder / JOURNAL_FILE).write_bytes(b"".join(lines[: taken[points - 1] + 1]))
    rows = (folder / CURVE_FILE).read_bytes().splitlines(keepends=True)
    (folder / CURVE_FILE).write_bytes(b"".join(rows[: points + 1]))
    for name in (SEAL_FILE, VERDICT_FILE):
        (folder / name).unlink()
    header = read_header(folder).changed(state="running", ended_utc=None)
    (folder / RUN_FILE).write_bytes(header.as_bytes())
    return folder
