"""Small invented runs for the tests of the record."""

from __future__ import annotations

from pathlib import Path

from acquire.record.curve_table import Judged, Measured
from acquire.record.files import DISK, Files
from acquire.record.keys import SigningKey
from acquire.record.run_folder import RunFolder
from acquire.record.run_header import InstrumentFacts, Job, RunHeader, RunState, Snapshot
from drivers.clock import HandClock
from drivers.readings import Quality, Reading

SPEEDS = (1500.0, 2000.0, 3000.0)
VERDICT = {
    "outcome": "pass",
    "reason": "Every reading clears its limit.",
    "acceptance": "within 10 %",
    "decision": "guarded",
    "points": [],
    "p_all": 0.997,
    "checks": [],
    "findings": [],
    "cautions": [],
}


class NoSync:
    """The real disk without waiting for it: for tests that do not pull the plug."""

    make_folder = DISK.make_folder
    rename = DISK.rename
    remove = DISK.remove

    def open_append(self, path: Path) -> NoSyncHandle:
        return NoSyncHandle(path)

    def sync_folder(self, path: Path) -> None:
        """Nothing to wait for."""


class NoSyncHandle:
    """Wraps a handle of the real disk."""

    def __init__(self, path: Path) -> None:
        inner = DISK.open_append(path)
        self.write, self.truncate, self.close = inner.write, inner.truncate, inner.close
        self.claim = inner.claim

    def sync(self) -> None:
        """Nothing to wait for."""


QUICK = NoSync()


def header() -> RunHeader:
    """An invented job on an invented unit."""
    return RunHeader(
        program="steadyamps 0",
        run_id="-",
        began_utc="2026-01-02T03:04:05.000Z",
        simulated=True,
        job=Job(number="J-1044", fitted_to="small ferry (invented)"),
        unit="14 V 90 A (invented)",
        serial="SN 7/1",
        stage="after",
        operator="bench",
        steps=SPEEDS,
        rig=Snapshot(title="Bench", origin="shipped", text='title = "Bench"\n'),
        instruments={"amps": InstrumentFacts(identity="Shunt 300 A", calibration={"due": None})},
    )


def readings_at(folder: RunFolder, clock: HandClock, shaft_rpm: float) -> list[Reading]:
    """One reading of three channels, and one that failed."""
    now_s = clock.monotonic_s()
    values = {"shaft_rpm": shaft_rpm + 0.1, "amps": shaft_rpm / 33.0, "volts": 13.5}
    good = [Reading(name, now_s, value) for name, value in values.items()]
    return [
        folder.time.reading(one) for one in [*good, Reading("case_c", now_s, None, Quality.BAD)]
    ]


def measure_step(folder: RunFolder, clock: HandClock, step: int, *, batches: int = 3) -> None:
    """Some tenths of a second of readings and a steady point."""
    shaft_rpm = SPEEDS[step - 1]
    folder.append("speed", {"shaft_rpm": shaft_rpm})
    for _ in range(batches):
        clock.advance(0.1)
        folder.add_readings(readings_at(folder, clock, shaft_rpm))
    folder.take_point(point(step))


def point(step: int) -> Measured:
    """The steady point of a step."""
    rpm = SPEEDS[step - 1]
    return Measured(step, rpm, rpm + 0.1, 0.05, rpm / 33.0, 0.21, 13.5, 0.01, None, "yes", 0.3, 3)


def new_run(
    shelf: Path,
    clock: HandClock | None = None,
    *,
    files: Files = QUICK,
    key: SigningKey | None = None,
) -> RunFolder:
    """A run just begun."""
    clock = clock or HandClock()
    return RunFolder.create(shelf, header(), clock, files=files, key=key, sync_every_s=None)


def finish(folder: RunFolder, *, state: RunState = "complete") -> Path:
    """End a run with every step judged and a verdict."""
    judged = {row.step: Judged(outcome="pass") for row in folder.curve}
    folder.finish(state, judged=judged, verdict=VERDICT)
    return folder.folder


def finished_run(
    shelf: Path,
    *,
    key: SigningKey | None = None,
    steps: int = 3,
    state: RunState = "complete",
) -> Path:
    """A whole run, sealed."""
    clock = HandClock()
    folder = new_run(shelf, clock, key=key)
    for step in range(1, steps + 1):
        measure_step(folder, clock, step)
    return finish(folder, state=state)
