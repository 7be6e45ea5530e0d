"""The runs on a shelf without its index: read from their folders."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from acquire.shelf.entry import RunEntry
from acquire.shelf.reading import read_entry
from acquire.shelf.where import local_ground


def runs_by_folder(folder: Path) -> Iterator[RunEntry]:
    """The runs on a shelf, newest first by the names of their folders."""
    ground = local_ground(folder)
    try:
        names = [path.name for path in folder.iterdir()]  # what is no run shows where it is read
    except OSError:
        return
    for name in sorted(names, key=lambda one: (one[:1].isdigit(), one), reverse=True):
        found = read_entry(ground, name)
        if isinstance(found, RunEntry):
            yield found
