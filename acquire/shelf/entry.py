"""What the index holds of a run: enough to find, list and export it; the folder has the rest."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path

from acquire.typed_path import is_there


@dataclass(frozen=True, slots=True)
class RunEntry:
    """One run, its texts with control characters visible."""

    run_id: str
    shelf: str
    """Which shelf it lies on; empty where the index lies on the shelf itself."""
    folder: str
    """The folder's name on its shelf."""
    place: str
    """Path of the shelf as the bench that noted the run sees it."""
    bench: str
    """Name of the computer that noted the run."""
    stamp: str
    """Of the files it was read from; another stamp means that they have changed."""
    may_change: bool
    """True for a run that goes on, can go on, or whose verdict is not there yet."""
    began_utc: str
    ended_utc: str | None
    state: str
    """running, stopped or complete."""
    outcome: str
    """pass, fail, undecided, not judged, stopped; empty where there is no verdict (yet)."""
    simulated: bool
    serial: str | None
    unit: str | None
    job_number: str | None
    customer: str | None
    fitted_to: str | None
    complaint: str | None
    parts_fitted: str | None
    claim: str | None
    stage: str | None
    operator: str | None
    rig: str | None
    rated: str | None
    method: str | None
    rule: str | None
    points: int | None
    """Steady points taken."""
    top_amps: float | None
    """The most it gave, at `top_rpm`."""
    top_rpm: float | None
    least_margin_amps: float | None
    """Smallest distance from the limit of all judged speeds."""
    p_all: float | None
    """Chance that it meets the limit at every judged speed."""
    cut_in_rpm: float | None
    reason: str
    """The verdict in one sentence."""
    findings: str
    """Sentences, joined by blanks."""
    serial_key: str
    job_key: str
    stage_key: str
    unit_key: str
    rated_key: str
    same_unit_key: str
    words: str
    """Everything a free search looks in."""

    @property
    def path(self) -> Path:
        """The run folder."""
        return Path(self.place) / self.folder

    @property
    def is_here(self) -> bool:
        """True where the run folder can be looked into from this computer."""
        return is_there(self.path)

    @property
    def elsewhere(self) -> str:
        """Where the run folder is, for one that is not here."""
        return f"The run lies on bench {self.bench}, in {self.path}; not reachable from here."

    @property
    def title(self) -> str:
        """What to call the run: its serial, else its unit, else its folder."""
        return self.serial or self.unit or self.folder

    @property
    def what_unit(self) -> str:
        """What the unit is, for a list: as it was typed, else the rated curve it was tested by."""
        return self.unit or self.rated or "-"

    @property
    def outcome_word(self) -> str:
        """The outcome, or what stands in its place."""
        return self.outcome or ("not finished" if self.state == "running" else "no verdict")

    def as_json(self) -> dict[str, object]:
        """Everything but what only serves the search."""
        told = {name: getattr(self, name) for name in TOLD}
        return {**told, "outcome": self.outcome_word, "path": str(self.path)}


COLUMNS = tuple(field.name for field in fields(RunEntry))
ONLY_FOR_SEARCH = ("shelf", "stamp", "may_change", "serial_key", "job_key", "stage_key",
                   "unit_key", "rated_key", "same_unit_key", "words")  # fmt: skip
TOLD = tuple(name for name in COLUMNS if name not in ONLY_FOR_SEARCH)


@dataclass(frozen=True, slots=True)
class SetAside:
    """A folder on the shelf that is not listed as a run, and why."""

    shelf: str
    folder: str
    place: str
    bench: str
    stamp: str
    run_id: str
    """The run it is a second copy of; empty for one that cannot be read."""
    problem: str

    @property
    def path(self) -> Path:
        """The folder."""
        return Path(self.place) / self.folder

    def as_json(self) -> dict[str, object]:
        """Folder and reason."""
        return {"folder": self.folder, "path": str(self.path), "problem": self.problem}
