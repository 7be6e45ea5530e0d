"""The runs of a bench's reference unit: found on the shelf and read, quickly.

Of a run only run.json, verdict.json and seal.json are read, and the first two are checked against
the third; `steadyamps verify` checks the rest.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from acquire.errors import RunFileError
from acquire.judging import points_in
from acquire.record.json_text import parse, read_bounded
from acquire.record.run_header import RUN_FILE, RunHeader, header_from_bytes
from acquire.record.seal import SEAL_FILE, Seal, seal_from
from acquire.record.verdict_file import VERDICT_FILE, read_verdict
from acquire.shelf.search_keys import search_key
from acquire.study.reference_chart import LEAST_RUNS
from acquire.study.repeated_runs import RepeatedRun, repeated_run
from profiles.errors import BenchError
from profiles.rig import Rig

DIRECTLY = 5_000
"""Shelves with more folders are asked through their index, which takes longer to begin with."""


@dataclass(frozen=True, slots=True)
class _Found:
    """A sealed, finished run of the reference unit on this rig."""

    folder: Path
    header: RunHeader

    @property
    def kind(self) -> tuple[str, tuple[float, ...]]:
        """Only runs by one method at one set of speeds belong to one chart."""
        method = self.header.method
        return ("" if method is None else method.title, self.header.steps)


def reference_runs(rig: Rig, shelf: Path) -> list[RepeatedRun]:
    """The runs of the rig's reference unit that make one chart, the oldest first.

    Those by the method last used that has enough runs for a chart; by the one most used where
    none has. What cannot be read, or is not as sealed, does not count.
    """
    if rig.reference is None:
        return []
    found = sorted(_found(rig, shelf), key=lambda one: one.header.began_utc)
    read = (_read(one) for one in _of_one_kind(found))
    return [run for run in read if run is not None]


def _of_one_kind(found: Sequence[_Found]) -> list[_Found]:
    kinds = sorted(found, key=lambda one: (one.kind, one.header.began_utc))
    groups = [list(group) for _, group in groupby(kinds, key=lambda one: one.kind)]
    enough = [group for group in groups if len(group) >= LEAST_RUNS]
    if enough:
        return max(enough, key=lambda group: group[-1].header.began_utc)
    return max(groups, key=lambda group: (len(group), group[-1].header.began_utc), default=[])


def _found(rig: Rig, shelf: Path) -> Iterator[_Found]:
    serial = search_key(rig.reference.serial if rig.reference else "")
    for folder in _folders(rig, shelf):
        try:
            data = read_bounded(folder / RUN_FILE)
            if not _may_be(data, serial):
                continue
            header = header_from_bytes(folder / RUN_FILE, data)
            if _counts(header, rig, serial) and _as_sealed(folder, data, header):
                yield _Found(folder, header)
        except (BenchError, OSError, ValueError, RecursionError):
            continue


def _folders(rig: Rig, shelf: Path) -> list[Path]:
    """Where a run of the unit may lie."""
    try:
        with os.scandir(shelf) as entries:
            folders = [Path(one.path) for one in entries if not one.name.startswith(".")]
    except OSError:
        return []
    if len(folders) <= DIRECTLY or rig.reference is None:
        return folders
    from acquire.shelf.shelf import open_shelf
    from acquire.shelf.wanted import Wanted
    from acquire.shelf.where import server_of

    wanted = Wanted(serial=rig.reference.serial, simulated=rig.simulated is not None)
    with open_shelf(shelf, server_of(shelf)) as opened:
        return [entry.path for entry in opened.every(wanted)]


def _may_be(data: bytes, serial: str) -> bool:
    """Cheaply, so that the runs of all the other units cost little."""
    table = json.loads(data)
    return isinstance(table, dict) and search_key(str(table.get("serial") or "")) == serial


def _counts(header: RunHeader, rig: Rig, serial: str) -> bool:
    since = rig.reference.since if rig.reference else None
    return (
        header.state == "complete"
        and search_key(header.serial) == serial
        and header.rig is not None
        and header.rig.title == rig.title
        and header.simulated == (rig.simulated is not None)
        and (since is None or header.began_day >= since)
    )


def _as_sealed(folder: Path, run_file: bytes, header: RunHeader) -> bool:
    seal = _seal(folder)
    contents = {RUN_FILE: run_file, VERDICT_FILE: read_bounded(folder / VERDICT_FILE)}
    files = seal.by_name()
    return seal.run_id == header.run_id and all(
        name in files and files[name].sha256 == hashlib.sha256(content).hexdigest()
        for name, content in contents.items()
    )


def _seal(folder: Path) -> Seal:
    seal = seal_from(parse(read_bounded(folder / SEAL_FILE)))
    if hashlib.sha256(seal.listing()).hexdigest() != seal.whole:
        raise RunFileError(
            folder / SEAL_FILE,
            "was changed.",
            what_to_do="`steadyamps verify` says more. Fetch the run from a copy.",
        )
    return seal


def _read(found: _Found) -> RepeatedRun | None:
    """The readings as verdict.json keeps them; None where it keeps none."""
    try:
        verdict = read_verdict(found.folder)
        taken = points_in(verdict or {})
        read = repeated_run(found.folder, found.header, taken, sealed=True)
    except (BenchError, OSError, ValueError, TypeError, KeyError):
        return None
    return read if read.readings else None
