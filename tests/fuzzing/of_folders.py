"""Targets: whole run folders in which one file was changed, and the shelf they stand on."""

from __future__ import annotations

import contextlib
import json
import math
import shutil
import unicodedata
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path

from acquire.candidates import candidate_of
from acquire.comparing import compare_runs, comparison_lines
from acquire.record.journal import hash_of
from acquire.record.read_run import read_run
from acquire.record.reopen import reopen
from acquire.record.run_header import read_header
from acquire.record.verify import verify
from acquire.reference_curve import reference_curve
from acquire.rejudging import judge_folder, points_of_run
from acquire.replay import replay
from acquire.report.html_paper import html_of
from acquire.report.material import material_of
from acquire.report.papers import report_paper, sheet_paper, tag_paper
from acquire.shelf.entry import RunEntry
from acquire.shelf.reading import read_entry
from acquire.shelf.shelf import open_shelf
from acquire.shelf.wanted import Wanted
from acquire.shelf.where import local_ground
from acquire.study.repeated_runs import repeated_run
from drivers.clock import HandClock
from profiles.catalogue import load_rated
from profiles.errors import BenchError
from profiles.settings import Settings
from tests.fuzzing.target import NotTaken, Shape, Target, claim, text_of
from tests.record.runs import QUICK

FILES = ("run.json", "verdict.json", "journal.jsonl", "seal.json", "curve.csv", "samples.csv")
SHAPES: dict[str, Shape] = {".json": "json", ".jsonl": "json lines", ".csv": "csv"}


class ChangedRun:
    """A run in which one file is replaced by the input."""

    def __init__(self, run: Path, folder: Path, name: str) -> None:
        self.folder = folder
        shutil.copytree(run, folder)
        self.name = name
        self.original = (folder / name).read_bytes()
        self._rated = load_rated("small-frame-14v-90a").profile

    @contextlib.contextmanager
    def _changed(self, data: bytes) -> Iterator[None]:
        path = self.folder / self.name
        path.write_bytes(data)
        try:
            yield
        finally:
            path.write_bytes(self.original)

    def feed(self, data: bytes) -> None:
        """All that reads a run: a change is always found; nothing ends in a fault of ours."""
        with self._changed(data):
            report = verify(self.folder)
            claim(
                report.sealed == (data == self.original),
                "a changed run is called sealed"
                if report.sealed
                else "an unchanged run is called changed",
            )
            json.dumps(report.as_json())
            self._some(data)

    def _some(self, data: bytes) -> None:
        """Always read it, and one of the dearer acts, by the input."""
        acts = (self._judge, self._judge, self._replay, self._reference, self._report, self._study)
        _all(self._read, acts[zlib.crc32(data) % len(acts)])

    def _read(self) -> None:
        run = read_run(self.folder)
        readings = sum(1 for _ in run.events())
        claim(readings >= len(run.journal), "events are lost")

    def _judge(self) -> None:
        judgement, _ = judge_folder(self.folder, self._rated, None)
        claim(
            judgement.verdict.outcome in ("pass", "fail", "undecided", "not judged"), "no outcome"
        )
        json.dumps(judgement.document, allow_nan=False)

    def _replay(self) -> None:
        replay(read_run(self.folder))

    def _reference(self) -> None:
        reference_curve(self.folder)

    def _report(self) -> None:
        material = material_of(self.folder, Settings())
        for make in (report_paper, sheet_paper, tag_paper):
            claim("</html>" in html_of(make(material)), "no paper")

    def _study(self) -> None:
        run = read_run(self.folder)
        repeated_run(self.folder, run.header, points_of_run(run), sealed=False)
        candidate_of(run).curve.at([1500.0])
        comparison_lines(compare_runs(run, run))


def _all(*acts: Callable[[], None]) -> None:
    """Do each; the first refusal counts, but the others are tried as well."""
    refusals = []
    for act in acts:
        try:
            act()
        except BenchError as refusal:
            refusals.append(refusal)
    if len(refusals) == len(acts):
        raise refusals[0]


class ChainedAnew(ChangedRun):
    """A journal of other hands: whoever can chain it anew can write anything into it."""

    def feed(self, data: bytes) -> None:
        """All that reads a run."""
        with self._changed(chained(data, read_header(self.folder).run_id)):
            verify(self.folder)
            self._some(data)


def chained(data: bytes, run_id: str) -> bytes:
    """The lines with their `prev` put right."""
    prev, lines = hash_of(run_id.encode()), []
    for line in data.split(b"\n"):
        with contextlib.suppress(ValueError, RecursionError):
            table = json.loads(line)
            if isinstance(table, dict):
                table["prev"] = prev
                line = json.dumps(table, ensure_ascii=True).encode()
        prev = hash_of(line)
        lines.append(line)
    return b"\n".join(lines)


class Reopened:
    """An interrupted run, one file of which was damaged, opened again to go on."""

    def __init__(self, run: Path, folder: Path, name: str) -> None:
        self._run, self._folder, self._name = run, folder, name

    def feed(self, data: bytes) -> None:
        """It goes on or is refused; nothing that was whole is lost."""
        shutil.rmtree(self._folder, ignore_errors=True)
        shutil.copytree(self._run, self._folder)
        (self._folder / self._name).write_bytes(data)
        clock = HandClock()
        before = read_run(self._folder)
        with contextlib.closing(
            _Closing(reopen(self._folder, clock, files=QUICK, sync_every_s=None))
        ):
            after = read_run(self._folder)
        claim(
            after.journal[: len(before.journal)] == before.journal,
            "entries of the journal are lost",
        )
        claim(
            {row.step for row in before.curve} <= {row.step for row in after.curve},
            "steps are lost",
        )
        claim(
            after.header.state == "running" and not after.tails, "it does not run, or is still cut"
        )


class _Closing:
    def __init__(self, run: object) -> None:
        self._run = run

    def close(self) -> None:
        self._run.close()  # type: ignore[attr-defined]


class OnTheShelf:
    """The index: every folder is listed or set aside, never fatal."""

    def __init__(self, run: Path, shelf: Path) -> None:
        self._shelf = shelf
        self._folder = shelf / "2026-01-02T030405Z-J-1044-abcd"
        shutil.copytree(run, self._folder)
        self._whole = {
            name: (self._folder / name).read_bytes() for name in ("run.json", "verdict.json")
        }
        self._other = shelf.parent / "shelf to search"
        self._search = open_shelf(_searched(run, self._other), None)

    def feed_entry(self, name: str) -> Callable[[bytes], None]:
        """What the index holds of a run whose `name` was changed."""

        def feed(data: bytes) -> None:
            (self._folder / name).write_bytes(data)
            try:
                entry = read_entry(local_ground(self._shelf), self._folder.name)
            finally:
                (self._folder / name).write_bytes(self._whole[name])
            if not isinstance(entry, RunEntry):
                raise NotTaken(entry.problem)
            _sound(entry)

        return feed

    def feed_search(self, data: bytes) -> None:
        """A search finds what another reading of the words finds, and never more."""
        text = text_of(data)
        wanted = Wanted(text=text).checked()
        found = {entry.run_id for entry in self._search.page(wanted, limit=50).entries}
        everything = self._search.page(limit=50).entries
        words = text.casefold().split()
        for entry in everything:
            held = all(word in _all_words(entry) for word in words)
            claim(
                held or entry.run_id not in found, f"found {entry.run_id}, which has not the words"
            )
        for wish in (
            Wanted(serial=text),
            Wanted(job=text),
            Wanted(unit=text),
            Wanted(rated=text),
            Wanted(stage=text),
        ):
            self._search.page(wish, limit=5)
        with contextlib.suppress(BenchError):
            self._search.find(text)


def _searched(run: Path, shelf: Path) -> Path:
    table = json.loads((run / "run.json").read_bytes())
    for number, serial in enumerate(("SN 7/1", "A-17 100%", "Ünit_3", "")):
        folder = shelf / f"2026-01-0{number + 1}T030405Z-J-10{number}-abc{'defg'[number]}"
        shutil.copytree(run, folder)
        changed = {**table, "run_id": folder.name, "serial": serial or None, "stage": "after"}
        (folder / "run.json").write_text(json.dumps(changed), encoding="utf-8")
    return shelf


def _all_words(entry: RunEntry) -> str:
    return (
        json.dumps(entry.as_json(), ensure_ascii=False).casefold()
        + f" {entry.words} {entry.serial_key} {entry.job_key}"
    )


def _sound(entry: RunEntry) -> None:
    for name in entry.__dataclass_fields__:
        value = getattr(entry, name)
        if isinstance(value, str):
            seen = all(c.isprintable() or unicodedata.category(c) == "Zs" for c in value)
            claim(seen, f"{name} would steer: {value!r:.60}")
            claim(len(value) <= 3000, f"{name} has {len(value)} characters")
            value.encode("utf-8")
        claim(not isinstance(value, float) or math.isfinite(value), f"{name} = {value}")
    json.dumps(entry.as_json(), allow_nan=False)


def targets(folder: Path, run: Path) -> list[Target]:
    """All targets of whole folders, made from a sealed run."""
    interrupted = _interrupted(run, folder / "interrupted")
    found = []
    for name in FILES:
        changed = ChangedRun(run, folder / f"changed {name}", name)
        found.append(_target(f"run folder: {name}", name, run, changed.feed, 0.03))
    anew = ChainedAnew(run, folder / "chained anew", "journal.jsonl")
    found.append(_target("run folder: journal chained anew", "journal.jsonl", run, anew.feed, 0.1))
    for name in ("run.json", "journal.jsonl", "curve.csv", "samples.csv"):
        opened = Reopened(interrupted, folder / f"reopened {name}", name)
        found.append(_target(f"reopen: {name}", name, interrupted, opened.feed, 0.05))
    shelf = OnTheShelf(run, folder / "shelf")
    found += [
        _target(f"shelf: entry of {name}", name, run, shelf.feed_entry(name), 0.1)
        for name in ("run.json", "verdict.json")
    ]
    words = [
        b"SN 7/1",
        b"a-17",
        b"100%",
        "ünit_3".encode(),
        b"abcd",
        b"pass complete",
        b"2026-01-01",
    ]
    found.append(Target("shelf: search", words, shelf.feed_search, share=0.1))
    return found


def _target(
    title: str, name: str, run: Path, feed: Callable[[bytes], None], share: float
) -> Target:
    data = (run / name).read_bytes()
    return Target(
        title, [data], feed, shape=SHAPES[Path(name).suffix], share=share, longest=300_000
    )


def _interrupted(run: Path, folder: Path) -> Path:
    """The same run as a power cut would leave it."""
    shutil.copytree(run, folder)
    table = json.loads((folder / "run.json").read_bytes())
    table |= {"state": "running", "ended_utc": None}
    (folder / "run.json").write_text(json.dumps(table), encoding="utf-8")
    for name in ("seal.json", "verdict.json"):
        (folder / name).unlink()
    return folder
