"""The profiles a run keeps: judged, resumed and replayed by what they said at the start."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from acquire.errors import RunFileError
from acquire.record.run_header import RunHeader, Snapshot
from profiles.alternator import AlternatorProfile, RatedCurve
from profiles.catalogue import Kind, from_snapshot
from profiles.method import Method
from profiles.rig import Rig
from profiles.rule import Rule
from profiles.table import Table


@dataclass(frozen=True, slots=True)
class Snapshots:
    """The profiles of one run."""

    rig: Rig
    method: Method
    rated: AlternatorProfile | None
    rule: Rule | None

    @property
    def rated_curve(self) -> RatedCurve | None:
        """The rated curve, where one was given."""
        return None if self.rated is None else self.rated.rated_curve()


def snapshots_of(header: RunHeader) -> Snapshots:
    """Read the profiles out of a run's header.

    Raises:
        RunFileError: If rig or method are missing.
        ProfileError: If one of them cannot be read by this program.
    """
    if header.rig is None or header.method is None:
        raise RunFileError(
            header.run_id,
            "keeps no rig or no method, so it cannot be worked out again.",
            what_to_do="No `steadyamps sweep` wrote it; `fit` and `judge` read its curve.",
        )
    rule = _profile("rules", header.rule, header.run_id)
    return Snapshots(
        rig=cast("Rig", _profile("rigs", header.rig, header.run_id)),
        method=cast("Method", _profile("methods", header.method, header.run_id)),
        rated=rated_of(header),
        rule=cast("Rule | None", rule),
    )


def rated_of(header: RunHeader) -> AlternatorProfile | None:
    """The rated curve that the run was judged by at its time; None: it had none.

    Raises:
        ProfileError: If it cannot be read by this program.
    """
    return cast("AlternatorProfile | None", _profile("alternators", header.rated, header.run_id))


def _profile(kind: Kind, snapshot: Snapshot | None, run_id: str) -> Table | None:
    if snapshot is None:
        return None
    return from_snapshot(kind, snapshot.values, f"{run_id}/run.json")
