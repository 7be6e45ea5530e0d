"""Every target there is."""

from __future__ import annotations

from pathlib import Path
from unittest.mock import patch

from tests.fuzzing import (
    of_commands,
    of_drivers,
    of_folders,
    of_formats,
    of_points,
    of_profiles,
    of_records,
    of_simulator,
    of_typed,
)
from tests.fuzzing.target import Target
from tests.report.runs import make_run

SAME_LETTERS = "abcd"
"""Of the run that samples are taken from: a seed then gives the same inputs each time."""


def all_targets(folder: Path) -> list[Target]:
    """Every target; they write their files into `folder`."""
    with patch("acquire.record.run_name.four_letters", return_value=SAME_LETTERS):
        run, noted = make_run(folder / "runs"), make_run(folder / "noted")
    return [
        *of_profiles.targets(folder),
        *of_formats.targets(),
        *of_drivers.targets(),
        *of_simulator.targets(),
        *of_typed.targets(),
        *of_points.targets(folder),
        *of_records.targets(folder, noted),
        *of_folders.targets(folder, run),
        *of_commands.targets(folder, run),
    ]
