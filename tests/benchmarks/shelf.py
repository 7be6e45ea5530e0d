"""The shelf with 100,000 runs: search, list page, rebuild; on SQLite and on PostgreSQL.

    python -m tests.benchmarks.shelf [--runs 100000] [--folders 3000] [--server]

The index is filled with generated rows; rebuild is measured on generated run folders whose run.json
and verdict.json are as long as those of a real run.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import random
import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from acquire.record.run_header import Snapshot
from acquire.shelf import noting
from acquire.shelf.database import Database, file_database, server_database
from acquire.shelf.entry import RunEntry
from acquire.shelf.finding import Count, named, of_same_units, page_of
from acquire.shelf.note_run import note_run
from acquire.shelf.pairs import partners_among
from acquire.shelf.reading import Ground, entry_of
from acquire.shelf.search_keys import same_unit_key, search_key, words_of
from acquire.shelf.shelf import open_shelf
from acquire.shelf.wanted import Wanted
from tests.benchmarks.figures import Figure, Size
from tests.benchmarks.slow_line import slow_line
from tests.shelf.postgres_server import PostgresServer, running
from tests.shelf.server_sql import SERVER_SQL
from tests.shelf.shelves import Told, put, settle, verdict_of

TARGET_MS, TARGET_PER_S = 50.0, 500.0
BATCH = 1000
REPEATS = 15
TYPES = 60
PLACES = ("ferry", "harbour launch", "van", "digger", "tractor", "grain dryer", "lorry", "bus")
BEGAN = datetime(2016, 1, 4, 7, 0, tzinfo=UTC)


def generated(first: RunEntry, count: int) -> Iterator[RunEntry]:
    """Invented runs, some ten a day, each unit tested before and after."""
    chance = random.Random(1)
    for number in range(count):
        yield _one(first, number, chance)


def _one(first: RunEntry, number: int, chance: random.Random) -> RunEntry:
    unit_number = number // 2
    stage = "after" if number % 2 else "before"
    outcome = chance.choices(("pass", "fail", "undecided", "stopped"), (70, 18, 9, 3))[0]
    kind = unit_number % TYPES
    serial, job = f"SF{kind:02d}-{unit_number:06d}", f"J-{20000 + unit_number}"
    unit, rated = f"{12 + kind} V type {kind}, {PLACES[kind % 8]}", f"14 V {kind + 40} A (invented)"
    began = (BEGAN + timedelta(minutes=50 * number)).strftime("%Y-%m-%dT%H:%M:%S.000Z")
    run_id = f"{began[:10]}T{began[11:19].replace(':', '')}Z-{job}-{number:06x}"
    words = words_of(run_id, unit, rated, serial, search_key(serial), job, search_key(job),
                     began[:10], outcome, stage, "T. Example", PLACES[kind % 8])  # fmt: skip
    return replace(
        first, run_id=run_id, folder=run_id, began_utc=began, ended_utc=began, outcome=outcome,
        serial=serial, unit=unit, job_number=job, stage=stage, rated=rated, may_change=False,
        serial_key=search_key(serial), job_key=search_key(job), stage_key=stage,
        unit_key=unit.casefold(), rated_key=rated.casefold(), words=words,
        same_unit_key=same_unit_key(serial=serial, job=job, unit=unit), simulated=False,
        state="complete", top_amps=chance.uniform(60, 100),
    )  # fmt: skip


def questions(runs: int) -> dict[str, tuple[Wanted, int]]:
    """What is asked, and from which page."""
    middle = runs // 4
    return {
        "list, first page": (Wanted(), 1),
        "list, page 100": (Wanted(), 100),
        "list, last page": (Wanted(), max(runs // 50, 1)),
        "serial, whole": (Wanted(serial=f"sf{middle % TYPES:02d}{middle:06d}"), 1),
        "serial, beginning": (Wanted(serial="SF07"), 1),
        "job": (Wanted(job=f"J{20000 + middle}"), 1),
        "unit text": (Wanted(unit="harbour launch"), 1),
        "dates": (Wanted(since="2019-02", until="2019-03"), 1),
        "outcome": (Wanted(outcomes=("fail",)), 1),
        "stage": (Wanted(stage="before"), 1),
        "rated": (Wanted(rated="99 a (invented)"), 1),
        "several": (Wanted(outcomes=("fail",), since="2020", stage="after", unit="van"), 1),
        "any word": (Wanted(text="dryer fail"), 1),
        "a rare word": (Wanted(text=f"{middle:06d}"), 1),
        "nothing found": (Wanted(text="nowhere at all"), 1),
        **broad_questions(),
    }


def broad_questions() -> dict[str, tuple[Wanted, int]]:
    """What a great part of all runs passes, alone or together with something rare."""
    four = ("pass", "fail", "undecided", "stopped")
    return {
        "short serial": (Wanted(serial="S"), 1),
        "short serial, page 20": (Wanted(serial="S"), 20),
        "short serial + unit": (Wanted(serial="S", unit="bus"), 1),
        "short serial, nothing": (Wanted(serial="S", unit="nowhere"), 1),
        "short job": (Wanted(job="J"), 1),
        "all rated": (Wanted(rated="invented"), 1),
        "four outcomes": (Wanted(outcomes=four), 1),
        "two outcomes": (Wanted(outcomes=four[:2]), 1),
        "undecided, after, one rated": (
            Wanted(outcomes=("undecided",), stage="after", rated="99"), 1),
        "one rated, before": (Wanted(rated="99", stage="before"), 1),
        "serial, stage and rated": (Wanted(serial="SF", stage="before", rated="99"), 1),
        "simulated": (Wanted(simulated=True), 1),
        "real": (Wanted(simulated=False), 1),
        "real, since long": (Wanted(simulated=False, since="2016"), 1),
        "since long": (Wanted(since="2016"), 1),
        "old days, one outcome": (Wanted(until="2016-06", outcomes=("stopped",)), 1),
        "old days, short serial": (Wanted(serial="S", until="2016-03", stage="after"), 1),
    }  # fmt: skip


def timed_ms(work: Callable[[], object]) -> tuple[float, float]:
    """Median and worst of a few."""
    took = []
    for _ in range(REPEATS):
        began_s = time.perf_counter()
        work()
        took.append((time.perf_counter() - began_s) * 1000)
    return statistics.median(took), max(took)


def answers(database: Database, runs: int) -> Iterator[tuple[str, float, float, Count]]:
    """What each question takes, its partners with it: median and worst [ms], and what it found."""
    for name, (wanted, number) in questions(runs).items():

        def ask(wanted: Wanted = wanted, number: int = number) -> Count:
            entries, count = database.read(
                lambda c: page_of(c, wanted, limit=50, offset=50 * (number - 1))
            )
            keys = [one.same_unit_key for one in entries]
            partners_among(database.read(lambda c: of_same_units(c, keys)))
            return count

        median_ms, worst_ms = timed_ms(ask)
        yield name, median_ms, worst_ms, ask()
    for name in ("of four letters", "that is none"):
        letters = "nowhere" if "none" in name else f"{runs // 4:06x}"

        def find(letters: str = letters) -> Count:
            return Count(len(database.read(lambda c: named(c, letters))))

        median_ms, worst_ms = timed_ms(find)
        yield f"name {name}", median_ms, worst_ms, find()


def ask_all(database: Database, runs: int) -> None:
    """Print what each question takes, its partners of before and after with it."""
    for name, median_ms, worst_ms, count in answers(database, runs):
        mark = "" if median_ms <= TARGET_MS else f"   over the target of {TARGET_MS:.0f} ms"
        more = "" if count.exact else " and more"
        print(f"  {name:<28}{median_ms:8.1f} ms, worst {worst_ms:6.1f}"
              f"   {count.runs:>7} found{more}{mark}")  # fmt: skip


def fill(database: Database, ground: Ground, runs: int, first: RunEntry) -> float:
    """Fill the index; runs noted a second."""
    began_s = time.perf_counter()
    batch: list[RunEntry] = []
    for entry in generated(first, runs):
        batch.append(entry)
        if len(batch) == BATCH:
            _note(database, ground, batch)
            batch = []
    _note(database, ground, batch)
    return runs / (time.perf_counter() - began_s)


def _note(database: Database, ground: Ground, batch: list[RunEntry]) -> None:
    entries = list(batch)
    database.write(lambda c: noting.note(c, ground, entries, [], take_over=False))


def make_folders(shelf: Path, count: int) -> None:
    """Run folders with files as long as those of a real run."""
    text = "# " + "x" * 3000
    rated = Snapshot(title="14 V 45/90 A", origin="user", text=text, values={"points": [1.0] * 40})
    told = Told("aaaa", serial="SN 1", unit="14 V 90 A (invented)", stage="before", rated=rated)
    for number in range(count):
        one = replace(told, letters=f"{number:05d}", serial=f"SN {number}",
                      began=BEGAN + timedelta(hours=number), outcome=None)  # fmt: skip
        folder = put(shelf, one, rig=rated, method=rated, rule=rated)
        (folder / "verdict.json").write_text(json.dumps(_long_verdict()))


def _long_verdict() -> dict[str, Any]:
    budget = {str(step): {"parts": [{"name": "scatter", "u_amps": 0.1, "share": 0.3}] * 12}
              for step in range(24)}  # fmt: skip
    return {**verdict_of("pass"), "budget": budget, "steady_points": [{"amps": 1.25}] * 120}


def rebuild_per_s(shelf: Path, count: int, url: str | None = None) -> float:
    """Runs a second."""
    with open_shelf(shelf, url, refresh=False) as opened:
        began_s = time.perf_counter()
        changes = opened.rebuild()
        took_s = time.perf_counter() - began_s
        assert changes.read == count
        assert opened.page().total == count
    return count / took_s


def longest_gap_ms(shelf: Path) -> tuple[float, float]:
    """While `note_run` works: how long it holds its caller, and the longest gap in a busy loop."""
    gaps: list[float] = []
    folder = next(path for path in shelf.iterdir() if not path.name.startswith("."))
    began_s = last_s = time.perf_counter()
    over: threading.Event = note_run(folder)
    returned_ms = (time.perf_counter() - began_s) * 1000
    while not over.is_set():
        time.sleep(0.001)
        now_s = time.perf_counter()
        gaps.append((now_s - last_s) * 1000)
        last_s = now_s
    return returned_ms, max(gaps, default=0.0)


@contextmanager
def _server() -> Iterator[PostgresServer]:
    with running() as server:
        server.sql("CREATE DATABASE bench")
        server.sql(SERVER_SQL.read_text(encoding="utf-8"), database="bench")
        server.sql("ALTER ROLE postgres IN DATABASE bench SET search_path = shelf",
                   database="bench")  # fmt: skip
        yield server


def measure(database: Database, ground: Ground, runs: int, first: RunEntry) -> None:
    """Fill one database and ask it."""
    print(f"  filled with {runs} runs: {fill(database, ground, runs, first):.0f} a second")
    if database.shared:
        _tidy_up(database)
    ask_all(database, runs)


def _tidy_up(database: Database) -> None:
    """What the server does by itself some minutes later."""
    from sqlalchemy import text

    with database.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text("VACUUM ANALYZE shelf_runs_2"))


def figures(size: Size) -> list[Figure]:
    """List, search and rebuild on SQLite."""
    runs = {"tiny": 200, "short": 20_000, "full": 100_000}[size]
    folders = {"tiny": 20, "short": 600, "full": 3000}[size]
    with tempfile.TemporaryDirectory() as name:
        shelf, rows = Path(name) / "runs", Path(name) / "rows"
        rows.mkdir()
        os.environ["STEADYAMPS_CONFIG"] = name
        make_folders(shelf, folders)
        per_s = rebuild_per_s(shelf, folders)
        first = entry_of(Ground(shelf, "", "bench"), min(p.name for p in shelf.iterdir()
                         if p.name[0] != "."), stamp="")  # fmt: skip
        database = file_database(rows)
        fill(database, Ground(rows, "", "bench"), runs, first)
        took_ms = {name: median_ms for name, median_ms, _, _ in answers(database, runs)}
        database.close()
    list_ms = took_ms.pop("list, first page")
    slowest = max(took_ms, key=took_ms.__getitem__)
    head = f"shelf of {runs} runs:"
    return [
        Figure(f"{head} first page of the list", list_ms, "ms", at_most=TARGET_MS),
        Figure(f"{head} slowest of {len(took_ms)} questions", took_ms[slowest], "ms",
               at_most=TARGET_MS, note=slowest),
        Figure(f"{head} rebuild", per_s, "runs/s", at_least=TARGET_PER_S,
               note=f"{folders} folders"),
    ]  # fmt: skip


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=100_000)
    parser.add_argument("--folders", type=int, default=3000)
    parser.add_argument("--server", action="store_true", help="PostgreSQL too")
    wanted = parser.parse_args()
    print(f"Python {platform.python_version()}, {platform.system()}, {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _all(folder, wanted.runs, wanted.folders, server=wanted.server)


def _all(folder: Path, runs: int, folders: int, *, server: bool) -> None:
    shelf, rows = folder / "runs", folder / "rows"
    rows.mkdir()
    make_folders(shelf, folders)
    os.environ["STEADYAMPS_CONFIG"] = str(folder)
    per_s = rebuild_per_s(shelf, folders)
    print(f"rebuild of {folders} folders: {per_s:.0f} runs a second (target {TARGET_PER_S:.0f})")
    settle(shelf)
    open_shelf(shelf).close()
    median_ms, worst_ms = timed_ms(lambda: open_shelf(shelf).close())
    print(f"open, nothing new: {median_ms:.1f} ms, worst {worst_ms:.1f}")
    returned_ms, gap_ms = longest_gap_ms(shelf)
    print(f"note_run: returns in {returned_ms:.2f} ms, longest gap meanwhile {gap_ms:.1f} ms")
    name = next(path.name for path in sorted(shelf.iterdir()) if path.name[0] != ".")
    first = entry_of(Ground(shelf, "", "bench"), name, stamp="")
    print("SQLite")
    database = file_database(rows)
    measure(database, Ground(rows, "", "bench"), runs, first)
    database.close()
    _among_many(rows, runs, first)
    if server:
        with _server() as running_server:
            _on_server(running_server, shelf, folders, runs, replace(first, shelf="rows"))


def _among_many(shelf: Path, runs: int, first: RunEntry) -> None:
    """Note one more run where there are folders of all the others."""
    for entry in generated(first, runs):
        (shelf / entry.folder).mkdir()
    put(shelf, Told("zzzzz", began=BEGAN))
    began_s = time.perf_counter()
    returned_ms, gap_ms = longest_gap_ms(shelf)
    took_ms = (time.perf_counter() - began_s) * 1000
    print(
        f"  one run more among {runs} folders: noted in {took_ms:.0f} ms, in the background;"
        f" note_run returns in {returned_ms:.2f} ms, longest gap meanwhile {gap_ms:.1f} ms"
    )
    with open_shelf(shelf, refresh=False) as opened:
        assert opened.page(limit=1).total == runs + 1


def _on_server(
    server: PostgresServer, shelf: Path, folders: int, runs: int, first: RunEntry
) -> None:
    url = server.url(database="bench")
    print("PostgreSQL, on loopback, without syncing to the disk")
    print(f"  rebuild of {folders} folders: {rebuild_per_s(shelf, folders, url):.0f} a second")
    database = server_database(url)
    measure(database, Ground(shelf, "rows", "bench"), runs, first)
    size = "SELECT pg_total_relation_size('shelf.shelf_runs_2') / count(*) FROM shelf.shelf_runs_2"
    print(f"  bytes a run, with every index: {server.sql(size, database='bench').strip()}")
    database.close()
    for round_trip_ms in (0.0, 2.0, 20.0, 80.0):
        _far_away(server, shelf, round_trip_ms)


def _far_away(server: PostgresServer, shelf: Path, round_trip_ms: float) -> None:
    """What a bench waits for, from nothing, when the server is so far away."""
    with slow_line(server.port, round_trip_s=round_trip_ms / 1000) as port:
        url = server.url(database="bench").replace(str(server.port), str(port))

        def list_from_nothing() -> None:
            with open_shelf(shelf, url) as opened:
                assert not opened.away
                opened.partners(opened.page().entries)

        def note() -> None:
            _touch(shelf)
            open_shelf(shelf, url).close()

        with open_shelf(shelf, url) as opened:
            page_ms, _ = timed_ms(lambda: opened.page(Wanted(serial="SN 12")))
        list_ms, _ = timed_ms(list_from_nothing)
        note_ms, _ = timed_ms(note)
    print(
        f"  round trip {round_trip_ms:3.0f} ms: list from nothing {list_ms:6.0f} ms, next"
        f" question {page_ms:5.0f} ms, note a run {note_ms:6.0f} ms"
    )


def _touch(shelf: Path) -> None:
    """A run on the shelf that goes on changes."""
    running = Told("zzzzz", began=BEGAN, state="running", outcome=None, serial=f"{time.time_ns()}")
    put(shelf, running)
    settle(shelf)


if __name__ == "__main__":
    main()
