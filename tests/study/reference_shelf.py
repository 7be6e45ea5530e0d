"""A shelf with sealed runs of a reference unit and others: one judged run, copied and changed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from acquire.record.json_text import many_lines
from acquire.record.run_header import RunHeader, read_header
from acquire.record.seal import make_seal
from profiles.catalogue import load_rig
from profiles.rig import Reference, Rig
from tests.report.runs import Order, make_run

FIRST = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
STEADY = (0.1, -0.1, 0.05, -0.05, 0.0, 0.1, -0.1, 0.02, -0.02, 0.0)
"""Percent by which ten runs of a bench that has not moved differ."""


def bench(title: str = "Bench 1", **reference: Any) -> Rig:
    """A rig that keeps the reference unit REF-1; `reference`: more keys of that table."""
    rig = load_rig("real-bench-example").profile
    table = Reference(**{"serial": "REF-1", **reference})
    return rig.model_copy(update={"title": title, "reference": table})


@dataclass
class ReferenceShelf:
    """Puts runs on a shelf, one a day."""

    folder: Path
    template: Path = field(init=False)
    count: int = 0

    def __post_init__(self) -> None:
        self.folder.mkdir(parents=True)
        self.template = make_run(self.folder.parent / "template", Order(method="quick"))

    def put_all(self, percents: Sequence[float], **more: Any) -> None:
        """A run for each."""
        for percent in percents:
            self.put(percent, **more)

    def put(
        self,
        percent: float = 0.0,
        *,
        serial: str = "REF-1",
        rig: str = "Bench 1",
        method: str = "Quick sweep, cold",
        seal: bool = True,
        **header: Any,
    ) -> Path:
        """A run that gave so many percent more than the template."""
        began = FIRST + timedelta(days=self.count)
        self.count += 1
        folder = self.folder / f"{began:%Y-%m-%dT%H%M%SZ}-ref-{self.count:04d}"
        folder.mkdir()
        for name in ("curve.csv", "samples.csv"):
            (folder / name).write_bytes((self.template / name).read_bytes())
        (folder / "journal.jsonl").touch()  # its chain begins with the name of the run
        (folder / "verdict.json").write_bytes(many_lines(self._verdict(percent)))
        changed = self._header(folder.name, began, serial=serial, rig=rig, method=method, **header)
        (folder / "run.json").write_bytes(changed.as_bytes())
        if seal:
            sealed = make_seal(folder, changed, sealed_utc="2026-09-01T00:00:00Z", key=None)
            (folder / "seal.json").write_bytes(many_lines(sealed.table()))
        return folder

    def _verdict(self, percent: float) -> dict[str, Any]:
        verdict: dict[str, Any] = json.loads((self.template / "verdict.json").read_bytes())
        for point in verdict["steady_points"]:
            for name in ("amps", "amps_at_set_rpm"):
                point[name] *= 1.0 + percent / 100.0
        return verdict

    def _header(
        self, run_id: str, began: datetime, *, serial: str, rig: str, method: str, **more: Any
    ) -> RunHeader:
        table = read_header(self.template).table()
        table["rig"]["title"], table["method"]["title"] = rig, method
        keys = {"run_id": run_id, "began_utc": f"{began:%Y-%m-%dT%H:%M:%SZ}", "serial": serial}
        return RunHeader.model_validate({**table, **keys, **more})
