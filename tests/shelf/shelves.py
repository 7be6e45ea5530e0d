"""Invented runs on a shelf, quickly made: run.json and verdict.json are all the index reads."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from acquire.record.run_header import Job, RunHeader, Snapshot
from acquire.record.run_name import utc_text
from acquire.shelf.catching_up import SETTLED_NS

FIRST_DAY = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
RATED = Snapshot(
    title="14 V 45/90 A, small frame (invented)",
    path="alternators/small-frame-14v-90a.toml",
    origin="shipped",
    text="",
)


@dataclass(frozen=True)
class Told:
    """What is said of a run."""

    letters: str
    began: datetime = FIRST_DAY
    serial: str | None = None
    unit: str | None = None
    job: str | None = None
    stage: str | None = None
    outcome: str | None = "pass"
    state: str = "complete"
    simulated: bool = False
    rated: Snapshot | None = RATED
    customer: str | None = None


def run_id_of(told: Told) -> str:
    """The folder's name."""
    return f"{told.began:%Y-%m-%dT%H%M%SZ}-run-{told.letters}"


def header_of(told: Told, **more: Any) -> RunHeader:
    """The run's header."""
    ended = None if told.state == "running" else utc_text(told.began + timedelta(minutes=4))
    return RunHeader.model_validate(
        {
            "schema": 1, "program": "steadyamps 0", "run_id": run_id_of(told),
            "began_utc": utc_text(told.began), "ended_utc": ended, "state": told.state,
            "simulated": told.simulated, "serial": told.serial, "unit": told.unit,
            "stage": told.stage, "job": Job(number=told.job, customer=told.customer),
            "rated": told.rated, **more,
        }
    )  # fmt: skip


def verdict_of(outcome: str) -> dict[str, Any]:
    """A verdict with two judged speeds."""
    points = [
        {"shaft_rpm": 1500.0, "amps": 46.5, "margin_amps": 6.0},
        {"shaft_rpm": 6000.0, "amps": 91.5, "margin_amps": 10.5},
    ]
    return {
        "schema": 1, "outcome": outcome, "reason": f"It is {outcome}.", "points": points,
        "p_all": 0.99, "fit": {"cut_in_rpm": {"value": 1100.0, "u": 20.0}}, "findings": [],
    }  # fmt: skip


def put(shelf: Path, told: Told, *, folder: str | None = None, **more: Any) -> Path:
    """Make or change the folder of a run."""
    path = shelf / (folder or run_id_of(told))
    path.mkdir(parents=True, exist_ok=True)
    (path / "run.json").write_bytes(header_of(told, **more).as_bytes())
    if told.outcome is not None and told.state != "running":
        (path / "verdict.json").write_text(json.dumps(verdict_of(told.outcome)))
    return path


def settle(shelf: Path) -> None:
    """As if the shelf had not changed for a while: its time tells of every change from here."""
    facts = shelf.stat()
    before_ns = facts.st_mtime_ns - 2 * SETTLED_NS
    os.utime(shelf, ns=(before_ns, before_ns))
