"""A glance at every run on the shelf: newest first, read from the run folders themselves."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from acquire.record.run_header import RUN_FILE, RunHeader, read_header
from profiles.errors import BenchError

VERDICT_FILE = "verdict.json"


@dataclass(frozen=True, slots=True)
class Glance:
    """One run, as far as a list needs it."""

    folder: Path
    header: RunHeader
    outcome: str
    """`pass`, `fail`, `undecided`, `not judged`, `stopped`, or empty while it goes on."""

    @property
    def day(self) -> str:
        """The date it began, UTC."""
        return self.header.began_utc[:10]

    @property
    def is_open(self) -> bool:
        """True for a run that can go on."""
        return self.header.state != "complete"

    def holds(self, words: str) -> bool:
        """True when every word stands somewhere in the run's names."""
        text = " ".join(self._names()).casefold()
        return all(word in text for word in words.casefold().split())

    def _names(self) -> Iterator[str]:
        header = self.header
        yield from (self.day, self.outcome, header.state, self.folder.name)
        rated = header.rated.title if header.rated is not None else None
        for name in (header.serial, header.unit, header.stage, header.operator, rated,
                     header.job.number, header.job.customer, header.job.fitted_to):  # fmt: skip
            if name:
                yield name


def glances(shelf: Path) -> list[Glance]:
    """Every run on the shelf, newest first; folders that are no runs are left out."""
    found = [glance for folder in _folders(shelf) if (glance := glance_at(folder)) is not None]
    return sorted(found, key=lambda one: one.header.began_utc, reverse=True)


def _folders(shelf: Path) -> list[Path]:
    try:
        return [path for path in shelf.iterdir() if (path / RUN_FILE).is_file()]
    except OSError:
        return []


def glance_at(folder: Path) -> Glance | None:
    """One run; None where its header cannot be read."""
    try:
        header = read_header(folder)
    except BenchError:
        return None
    return Glance(folder, header, _outcome(folder))


def _outcome(folder: Path) -> str:
    try:
        document = json.loads((folder / VERDICT_FILE).read_bytes())
    except (OSError, ValueError):
        return ""
    outcome = document.get("outcome") if isinstance(document, dict) else None
    return outcome if isinstance(outcome, str) else ""


def earlier_of(runs: list[Glance], serial: str, *, simulated: bool) -> Glance | None:
    """The newest whole run of the same serial; simulated and real ones are never mixed."""
    wanted = serial.strip().casefold()
    for one in runs:
        same = wanted and (one.header.serial or "").strip().casefold() == wanted
        if same and one.header.state == "complete" and one.header.simulated == simulated:
            return one
    return None


def to_go_on(runs: list[Glance]) -> Glance | None:
    """The newest run, where it was interrupted."""
    return runs[0] if runs and runs[0].is_open else None
