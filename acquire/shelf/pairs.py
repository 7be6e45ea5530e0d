"""Before and after: which runs of one unit belong together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from acquire.shelf.entry import RunEntry
from acquire.shelf.search_keys import search_key

BEFORE_STAGES = ("before", "incoming")
AFTER_STAGE = "after"


@dataclass(frozen=True, slots=True)
class Partners:
    """The runs that a run is to be compared with."""

    before: RunEntry | None = None
    after: RunEntry | None = None


def partners_among(entries: Sequence[RunEntry]) -> dict[str, Partners]:
    """For every run that has one, its partner, by run id.

    A run `after` belongs to the last run `before` (or `incoming`) of the same unit ahead of it;
    a run `before` to the last `after` that belongs to it. Simulated and real runs are never mixed,
    nor two different jobs, nor runs that were not completed.

    Args:
        entries: Oldest first; of several units, or of one.
    """
    found: dict[str, Partners] = {}
    for unit in _by_unit(entries):
        befores: list[RunEntry] = []
        for one in unit:
            if one.stage_key in BEFORE_STAGES:
                befores.append(one)
            elif one.stage_key == AFTER_STAGE:
                before = _last_of_job(befores, one)
                if before is not None:
                    found[one.run_id] = Partners(before=before)
                    found[before.run_id] = Partners(after=one)
    return found


def _by_unit(entries: Iterable[RunEntry]) -> Iterable[list[RunEntry]]:
    units: dict[tuple[str, bool], list[RunEntry]] = {}
    for one in entries:
        if one.same_unit_key and one.state == "complete":
            units.setdefault((one.same_unit_key, one.simulated), []).append(one)
    return units.values()


def _last_of_job(befores: Sequence[RunEntry], after: RunEntry) -> RunEntry | None:
    for one in reversed(befores):
        jobs = {search_key(one.job_number), search_key(after.job_number)} - {""}
        if len(jobs) <= 1:
            return one
    return None
