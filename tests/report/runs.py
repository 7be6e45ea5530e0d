"""Rich invented runs for the tests of the report, judged and sealed as live ones are."""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from acquire.cautions import cautions_for
from acquire.judge.checks import Answer
from acquire.judge.slopes import Slope
from acquire.judge.steady_point import (
    ChannelMean,
    SteadyPoint,
    Step,
    Trust,
    not_measured,
    steady_point,
)
from acquire.judging import judge_run
from acquire.points import measured_of
from acquire.record.add_note import add_note
from acquire.record.keys import SigningKey
from acquire.record.run_folder import RunFolder
from acquire.record.run_header import InstrumentFacts, Job, RunHeader, Snapshot
from acquire.snapshots import snapshots_of
from acquire.study.reference_watch import REFERENCE_WATCHED
from drivers.clock import HandClock
from drivers.readings import Reading
from profiles.accuracy import Accuracy
from profiles.catalogue import load_method, load_rated, load_rig, load_rule
from profiles.settings import Settings
from tests.record.runs import QUICK

GOOD = {1500.0: 52.1, 2000.0: 71.4, 3000.0: 85.2, 6000.0: 93.1}
WEAK = {1500.0: 26.4, 2000.0: 51.7, 3000.0: 76.2, 6000.0: 92.9}
EIGHT = {
    1500.0: 52.1, 1800.0: 65.3, 2000.0: 71.4, 2500.0: 80.2, 3000.0: 85.2, 4000.0: 90.0,
    5000.0: 92.1, 6000.0: 93.1,
}  # fmt: skip
BEGAN = datetime(2026, 9, 14, 8, 30, tzinfo=UTC)


@dataclass
class Order:
    """What a run is made of; changed by each test as it needs."""

    amps: dict[float, float | None] = field(default_factory=lambda: dict(GOOD))
    percent: float = 0.5
    """Accuracy of the ammeter, percent of reading."""
    method: str = "rebuild-12v"
    rule: str | None = "within-10-percent"
    rated: str | None = "small-frame-14v-90a"
    rig: str = "real-bench-example"
    simulated: bool = False
    job: Job = field(default_factory=lambda: Job(number="J-1044", customer="Ferry 3 (invented)"))
    unit: str = "14 V 90 A, rebuilt"
    serial: str = "SF90-0417"
    stage: str | None = "after"
    operator: str = "T. Example"
    stopped: str | None = None
    key: SigningKey | None = None
    answers: dict[str, Answer] = field(
        default_factory=lambda: {
            "insulation of the rotor": 20.0,
            "charge lamp": True,
            "regulating voltage": 14.2,
            "ripple": 0.21,
            "runs quietly": True,
        }
    )
    channels: tuple[str, ...] = ()
    began: datetime = BEGAN
    utc_offset: timedelta = timedelta(hours=2)
    """How far the bench is ahead of UTC."""
    reference: dict[str, Any] | None = None
    """What the run keeps of the chart of the bench's reference unit."""


def make_run(shelf: Path, order: Order | None = None) -> Path:
    """A whole run, sealed."""
    order = order or Order()
    shelf.mkdir(parents=True, exist_ok=True)
    clock = HandClock(start_utc=order.began, utc_offset=order.utc_offset)
    folder = RunFolder.create(
        shelf, _header(order), clock, files=QUICK, key=order.key, sync_every_s=None
    )
    rig = snapshots_of(folder.header).rig
    accepted = {"how": "--yes", "cautions": list(cautions_for(rig)), "wiring": ["lamp on D+"]}
    folder.append("cautions accepted", accepted)
    if order.reference is not None:
        folder.append(REFERENCE_WATCHED, order.reference)
    folder.append("zero taken", {"amps": 0.02, "u_amps": 0.01, "readings": 40})
    points = [_point(n, rpm, amps, order) for n, (rpm, amps) in enumerate(order.amps.items(), 1)]
    for point in points:
        clock.advance(20.0)
        _read(folder, clock, point)
        folder.take_point(measured_of(point))
    judgement = judge_run(
        snapshots_of(folder.header),
        points=points,
        why_stopped=order.stopped,
        answers=order.answers,
    )
    state: Any = "stopped" if order.stopped else "complete"
    folder.finish(state, judged=judgement.judged, verdict=judgement.document)
    return folder.folder


def _header(order: Order) -> RunHeader:
    rig = load_rig(order.rig)
    instruments = {
        name: InstrumentFacts(
            identity=f"meter of {name} (invented)",
            calibration=one.calibration.model_dump(mode="json") if one.calibration else None,
        )
        for name, one in rig.profile.channels.items()
    }
    return RunHeader(
        program="steadyamps 0",
        run_id="-",
        began_utc="2026-01-02T03:04:05.000Z",
        simulated=order.simulated,
        job=order.job,
        unit=order.unit,
        serial=order.serial,
        stage=order.stage,
        operator=order.operator,
        steps=tuple(order.amps),
        rig=Snapshot.of(rig),
        rated=Snapshot.of(load_rated(order.rated)) if order.rated else None,
        method=Snapshot.of(load_method(order.method)),
        rule=Snapshot.of(load_rule(order.rule)) if order.rule else None,
        instruments=instruments,
    )


def _point(number: int, set_rpm: float, amps: float | None, order: Order) -> SteadyPoint:
    if amps is None:
        return not_measured(number, set_rpm)
    return steady_point(
        step=Step(number, set_rpm, "yes", settle_s=20.0, readings=200),
        amps=ChannelMean(amps, 0.05, 8.0),
        shaft_rpm=ChannelMean(set_rpm + 1.5, 0.5),
        amps_trust=Trust(Accuracy(percent_of_reading=order.percent), "the ammeter"),
        shaft_trust=Trust(Accuracy(percent_of_reading=0.05), "the tachometer"),
        volts=ChannelMean(13.51, 0.005),
        volts_trust=Trust(Accuracy(absolute=0.02), "the voltmeter"),
        case_c=41.0,
        u_zero_amps=0.01,
        speed_slope=Slope(30.0 / set_rpm, 0.002),
        volts_slope=Slope(-1.0, 0.5),
        test_volts=13.5,
    )


def _read(folder: RunFolder, clock: HandClock, point: SteadyPoint) -> None:
    if point.amps is None or point.shaft_rpm is None:
        return
    values = {"shaft_rpm": point.shaft_rpm, "amps": point.amps, "volts": 13.51}
    now_s = clock.monotonic_s()
    readings = [Reading(name, now_s, value) for name, value in values.items()]
    folder.add_readings([folder.time.reading(one) for one in readings])


def add_photo(
    run: Path,
    where: Path,
    *,
    text: str = "brush holder",
    name: str = "p.png",
    key: SigningKey | None = None,
) -> Path:
    """A note with a small picture."""
    photo = where / name
    photo.write_bytes(tiny_png())
    later = HandClock(start_utc=BEGAN + timedelta(hours=2))
    add_note(run, text, who="T. Example", attach=[photo], key=key, clock=later, files=QUICK)
    return photo


def tiny_png(width: int = 16, height: int = 12) -> bytes:
    """A small picture of one colour."""
    rows = b"".join(b"\x00" + b"\x30\x70\xb0" * width for _ in range(height))

    def chunk(kind: bytes, data: bytes) -> bytes:
        check = zlib.crc32(kind + data)
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", check)

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def settings(**report: str) -> Settings:
    """A workshop's settings."""
    return Settings.model_validate(
        {
            "workshop": {"name": "Quay Electrics (invented)", "address": "Quay 7\nHarbour"},
            "report": report,
        }
    )
