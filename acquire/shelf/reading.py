"""Reading of a run folder what the index holds of it: run.json and verdict.json, nothing else."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from acquire.errors import RunFileError
from acquire.record.json_text import read_bounded
from acquire.record.other_hands import number_if_any
from acquire.record.run_header import RUN_FILE, RunHeader, Snapshot, read_header
from acquire.record.verdict_file import VERDICT_FILE
from acquire.shelf.entry import RunEntry, SetAside
from acquire.shelf.search_keys import folded, same_unit_key, search_key, words_of
from profiles.errors import BenchError
from profiles.plain_text import visible

LONGEST_TEXT = 1000
"""Characters kept of one text."""
LONGEST_NAME = 250
_LIKE_A_RUN = re.compile(r"\d{4}-\d\d-\d\dT\d{6}Z-")
_FOLDED_SEPARATOR = " / "


@dataclass(frozen=True, slots=True)
class Ground:
    """Where runs lie, and who looks."""

    folder: Path
    shelf: str
    bench: str

    @property
    def place(self) -> str:
        """The path, as it is kept."""
        return clean(str(self.folder))


def clean(text: str) -> str:
    """Make text fit to be shown and to be kept by every database: no control characters."""
    return text if text.isprintable() else visible(text)


def may_be_a_run(name: str, folder: Path) -> bool:
    """True for a folder that is a run, or was meant to be one."""
    if name.startswith("."):
        return False
    return _LIKE_A_RUN.match(name) is not None or (folder / RUN_FILE).is_file()


def stamp_of(folder: Path) -> str:
    """Sizes and times of the files read; the same stamp means the same content."""
    return " ".join(_stamp(folder / name) for name in (RUN_FILE, VERDICT_FILE))


def _stamp(path: Path) -> str:
    try:
        facts = path.stat()
    except OSError:
        return "-"
    return f"{facts.st_mtime_ns}:{facts.st_size}"


def read_entry(ground: Ground, name: str) -> RunEntry | SetAside:
    """Read one folder; what cannot be read is told, never raised."""
    folder = ground.folder / name
    stamp = stamp_of(folder)
    try:
        return entry_of(ground, name, stamp=stamp)
    except BenchError as error:
        return set_aside(ground, name, clean(str(error)), stamp=stamp)
    except (OSError, RecursionError, ValueError) as error:
        return set_aside(ground, name, clean(f"cannot be read: {error}"), stamp=stamp)


def set_aside(
    ground: Ground, name: str, problem: str, *, stamp: str = "", run_id: str = ""
) -> SetAside:
    """A folder that is not listed as a run."""
    return SetAside(
        ground.shelf, name, ground.place, ground.bench, stamp, run_id, problem[:LONGEST_TEXT]
    )


def entry_of(ground: Ground, name: str, *, stamp: str) -> RunEntry:
    """Read a run.

    Raises:
        RunFileError: If run.json or verdict.json cannot be used.
    """
    folder = ground.folder / name
    header = read_header(folder)
    # While run.json says `running`, a verdict beside it is from before a resume.
    verdict = _verdict(folder) if header.state != "running" else {}
    findings = " ".join(_sentences(verdict.get("findings")))
    job = header.job
    outcome = str(verdict.get("outcome", ""))[:LONGEST_NAME]
    return RunEntry(
        run_id=_short(header.run_id, 200) or name,
        shelf=ground.shelf,
        folder=name,
        place=ground.place,
        bench=ground.bench,
        stamp=stamp,
        may_change=header.state != "complete" or not outcome,
        began_utc=header.began_utc,
        ended_utc=header.ended_utc,
        state=header.state,
        outcome=clean(outcome),
        simulated=header.simulated,
        serial=_short(header.serial),
        unit=_short(header.unit),
        job_number=_short(job.number),
        customer=_short(job.customer),
        fitted_to=_short(job.fitted_to),
        complaint=_short(job.complaint, LONGEST_TEXT),
        parts_fitted=_short(job.parts_fitted, LONGEST_TEXT),
        claim=_short(job.claim),
        stage=_short(header.stage),
        operator=_short(header.operator),
        rig=_title(header.rig),
        rated=_title(header.rated),
        method=_title(header.method),
        rule=_title(header.rule) or _allowed(verdict),
        **_figures(verdict),
        reason=_short(str(verdict.get("reason", "")), LONGEST_TEXT) or "",
        findings=_short(findings, LONGEST_TEXT) or "",
        **_keys(header, name, outcome=outcome, findings=findings),
    )


def _verdict(folder: Path) -> Mapping[str, Any]:
    """The verdict, read leniently: the index shows a few of its figures, `verify` judges it."""
    path = folder / VERDICT_FILE
    if not path.exists():
        return {}
    try:
        verdict = json.loads(read_bounded(path))
    except (ValueError, RecursionError) as error:
        raise RunFileError(
            path, "cannot be read: it is not JSON.", what_to_do="Fetch the run from a copy."
        ) from error
    if not isinstance(verdict, dict) or not isinstance(verdict.get("outcome"), str):
        raise RunFileError(path, "has no outcome.", what_to_do="Fetch the run from a copy.")
    return verdict


def _allowed(verdict: Mapping[str, Any]) -> str | None:
    """The limit in words, where the method's own rule was in force."""
    words = verdict.get("acceptance")
    return _short(words) if isinstance(words, str) else None


def _figures(verdict: Mapping[str, Any]) -> dict[str, Any]:
    points = list(_tables(verdict.get("points")))
    top = max(points, key=lambda one: number_if_any(one.get("amps")) or -math.inf, default={})
    margins = [m for one in points if (m := number_if_any(one.get("margin_amps"))) is not None]
    fit = verdict.get("fit")
    cut_in = fit.get("cut_in_rpm") if isinstance(fit, dict) else None
    taken = sum(number_if_any(one.get("amps")) is not None for one in points)
    return {
        "points": taken if "points" in verdict else None,
        "top_amps": number_if_any(top.get("amps")),
        "top_rpm": number_if_any(top.get("shaft_rpm")),
        "least_margin_amps": min(margins, default=None),
        "p_all": number_if_any(verdict.get("p_all")),
        "cut_in_rpm": number_if_any(cut_in.get("value")) if isinstance(cut_in, dict) else None,
    }


def _keys(header: RunHeader, name: str, *, outcome: str, findings: str) -> dict[str, Any]:
    serial, unit, job = clean(header.serial or ""), clean(header.unit or ""), header.job
    number = clean(job.number or "")
    rated = _rated_names(header.rated)
    serial_key, job_key = search_key(serial), search_key(number)
    names = (
        name, unit, rated, serial, serial_key, number, job_key, header.began_utc[:10],
        outcome if header.state == "complete" else f"{outcome} {header.state}", header.stage,
        job.customer, job.fitted_to, header.operator, job.claim, job.complaint, findings,
    )  # fmt: skip
    return {
        "serial_key": serial_key,
        "job_key": job_key,
        "stage_key": folded(clean(header.stage or ""))[:LONGEST_NAME],
        "unit_key": folded(unit)[:LONGEST_NAME],
        "rated_key": folded(rated)[:LONGEST_NAME],
        "same_unit_key": same_unit_key(serial=serial, job=number, unit=unit),
        "words": words_of(*(clean(one) for one in names if one)),
    }


def _rated_names(rated: Snapshot | None) -> str:
    """Title and file name of the rated profile: either may be searched for."""
    if rated is None:
        return ""
    stem = PurePosixPath((rated.path or "").replace("\\", "/")).stem
    return clean(_FOLDED_SEPARATOR.join(part for part in (rated.title, stem) if part))


def _title(snapshot: Snapshot | None) -> str | None:
    return None if snapshot is None else _short(snapshot.title)


def _short(text: str | None, longest: int = LONGEST_NAME) -> str | None:
    """None for a text that says nothing."""
    if text is None or not text.strip():
        return None
    return clean(text[:longest])[:longest]


def _tables(value: object) -> Iterable[Mapping[str, Any]]:
    return [one for one in value if isinstance(one, dict)] if isinstance(value, list) else []


def _sentences(findings: object) -> Iterable[str]:
    return [str(one["words"]) for one in _tables(findings) if one.get("words")]
