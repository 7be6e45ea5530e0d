"""A record broken off at random instants: writers killed, plugs pulled, operations refused.

    python -m tests.benchmarks.record_crash --n 1000 --seed 1

Each way so many times (`tests/record/crashes.py` says how). Asked: no steady point lost, no folder
unreadable, every run gone on with to a sealed end. Exit code 1 where that is not so.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from tests.benchmarks.figures import Figure, Size
from tests.record.crashes import Fate, kills, pulled_plugs, refusals

Way = Callable[..., Iterator[Fate]]
WAYS: dict[str, Way] = {
    "writer killed": kills,
    "plug pulled, writes torn and reordered": pulled_plugs,
    "operation refused (ENOSPC, EIO)": refusals,
}
FATES = ("never began", "resumed", "resumed with a cut end", "complete")
COUNTS: dict[Size, int] = {"tiny": 20, "short": 300, "full": 1000}


@dataclass
class Sum:
    """One way, all its instants."""

    instants: int = 0
    lost: int = 0
    unreadable: int = 0
    not_resumable: int = 0
    fates: Counter[str] = field(default_factory=Counter)
    words: list[str] = field(default_factory=list)
    took_s: float = 0.0

    def add(self, fate: Fate) -> None:
        """One more instant."""
        self.instants += 1
        self.lost += fate.lost
        self.unreadable += fate.unreadable
        self.not_resumable += bool(fate.not_resumable)
        self.fates[fate.how] += 1
        if not fate.sound:
            self.words.append(f"{fate.how}: {fate.lost} lost; {fate.not_resumable}")


def summed(way: str, *, count: int, seed: int) -> Sum:
    """Break off `count` records in one way."""
    total, began_s = Sum(), time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        for fate in WAYS[way](Path(folder), count=count, seed=seed):
            total.add(fate)
    total.took_s = time.monotonic() - began_s
    return total


def ways_here() -> list[str]:
    """Those this system has: a process that is a copy of this one, to be killed, is of POSIX."""
    return [way for way in WAYS if sys.platform != "win32" or WAYS[way] is not kills]


def figures(size: Size) -> list[Figure]:
    """For `python -m tests.benchmarks`."""
    out = []
    for way in ways_here():
        total = summed(way, count=COUNTS[size], seed=1)
        note = f"{total.instants} instants, {total.fates['complete']} of them complete"
        out += [
            Figure(f"record, {way}: steady points lost", total.lost, at_most=0, note=note),
            Figure(f"record, {way}: folders unreadable", total.unreadable, at_most=0),
            Figure(f"record, {way}: not resumable", total.not_resumable, at_most=0),
        ]
    return out


def main() -> int:
    """Print the table of figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--n", type=int, default=1000, help="instants a way")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    bad = 0
    print(f"{'way':<40}{'instants':>9}{'lost':>6}{'unreadable':>12}{'not resumable':>15}{'s':>7}")
    for way in ways_here():
        total = summed(way, count=given.n, seed=given.seed)
        print(
            f"{way:<40}{total.instants:>9}{total.lost:>6}{total.unreadable:>12}"
            f"{total.not_resumable:>15}{total.took_s:>7.0f}"
        )
        print("    " + ", ".join(f"{how} {total.fates[how]}" for how in FATES))
        for words in total.words[:10]:
            print(f"    ! {words}")
        bad += total.lost + total.unreadable + total.not_resumable
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
