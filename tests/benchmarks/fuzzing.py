"""Counted fuzzing of every parser and file reader.

    python -m tests.benchmarks.fuzzing --n 20000 --seed 1
    python -m tests.benchmarks.fuzzing --only Modbus --n 100000
    python -m tests.benchmarks.fuzzing --replay FILE

`--n` is for the cheapest targets; dearer ones get their share. Each input must be taken (and be
what an independent reading of it says), or refused by an error of the project's own that names
its subject; anything else is a defect. Inputs that showed one are kept in `--keep` (default
.fuzzing), and the exit code is 1.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from unittest.mock import patch

from tests.benchmarks.figures import Figure, Size
from tests.fuzzing.all_targets import all_targets
from tests.fuzzing.counting import Became, Count, Failure, fuzzed, replayed
from tests.fuzzing.target import Target

COLUMNS: tuple[tuple[str, Became], ...] = (
    ("taken", "accepted"),
    ("refused", "refused"),
    ("other error", "other"),
    ("unnamed", "unnamed"),
    ("slow", "slow"),
    ("memory", "memory"),
    ("wrong", "wrong"),
)


def figures(size: Size) -> list[Figure]:
    """Inputs tried, and defects among what became of them."""
    n = {"tiny": 20, "short": 2000, "full": 20_000}[size]
    with _folder() as folder:
        counts = [fuzzed(t, max(round(n * t.share), 1), seed=1) for t in all_targets(folder)]
    defects = sum(len(count.failures) for count in counts)
    note = f"of {sum(count.tried for count in counts)} inputs to {len(counts)} parsers and readers"
    return [Figure("fuzzed inputs that showed a defect", defects, at_most=0, note=note)]


def main(arguments: list[str] | None = None) -> int:
    """Run what is asked for; 1 when there was a defect."""
    order = _order(arguments)
    with _folder() as folder:
        return _run(order, folder)


@contextlib.contextmanager
def _folder() -> Iterator[Path]:
    """A folder to write to; no profiles or settings of the user's are looked at."""
    with (
        tempfile.TemporaryDirectory(prefix="fuzzing-") as folder,
        patch.dict(os.environ, STEADYAMPS_CONFIG=folder),
    ):
        yield Path(folder)


def _run(order: argparse.Namespace, folder: Path) -> int:
    wanted = order.only.lower()
    targets = [target for target in all_targets(folder) if wanted in target.name.lower()]
    if order.replay is not None:
        return _replay(targets, Path(order.replay))
    counts = []
    print(_heading(), flush=True)
    for target in targets:
        count = fuzzed(target, max(round(order.n * target.share), 1), order.seed)
        counts.append(count)
        print(_row(count), flush=True)
    print(_row(_total(counts)))
    failures = [failure for count in counts for failure in count.failures]
    _keep(failures, Path(order.keep))
    return 1 if failures else 0


def _order(arguments: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.fuzzing")
    parser.add_argument("--n", type=int, default=20_000, help="inputs of a target of share 1")
    parser.add_argument("--seed", type=int, default=int(time.time()))
    parser.add_argument("--only", default="", help="targets with this in their name")
    parser.add_argument("--keep", default=".fuzzing", help="where failing inputs are kept")
    parser.add_argument("--replay", default=None, help="an input that was kept")
    return parser.parse_args(arguments)


def _heading() -> str:
    names = "".join(f"{name:>12}" for name, _ in COLUMNS)
    return f"{'target':<34}{'tried':>9}{names}{'us each':>9}{'slowest ms':>12}"


def _row(count: Count) -> str:
    figures = "".join(f"{count.became.get(kind, 0):>12}" for _, kind in COLUMNS)
    each_us = 1e6 * count.cpu_s / max(count.tried, 1)
    return (
        f"{count.target:<34}{count.tried:>9}{figures}{each_us:>9.0f}{1e3 * count.slowest_s:>12.0f}"
    )


def _total(counts: list[Count]) -> Count:
    total = Count(f"{len(counts)} targets")
    for count in counts:
        total.tried += count.tried
        total.cpu_s += count.cpu_s
        total.slowest_s = max(total.slowest_s, count.slowest_s)
        for kind, number in count.became.items():
            total.became[kind] = total.became.get(kind, 0) + number
    return total


def _keep(failures: list[Failure], folder: Path) -> None:
    for failure in failures:
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / failure.file_name
        path.write_bytes(failure.data)
        print(f"\n{failure}\n    kept: {path}")


def _replay(targets: list[Target], path: Path) -> int:
    """Give a kept input to its target again."""
    for target in targets:
        part = Failure(target.name, "other", "", b"").target_part
        if path.name.partition("--")[0] == part:
            became, words = replayed(target, path.read_bytes())
            print(f"{target.name}: {became}: {words}")
            return 0 if became in ("accepted", "refused") else 1
    print(f"{path} belongs to no target here.", file=sys.stderr)
    return 2


if __name__ == "__main__":
    sys.exit(main())
