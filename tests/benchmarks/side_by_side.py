"""Several things measured in turn or at once: whatever else the machine does meets all of them."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Measured = TypeVar("Measured")


def in_turn(jobs: Mapping[str, Callable[[], Measured]], rounds: int) -> dict[str, list[Measured]]:
    """What each job gave in each round; every round does every job once."""
    found: dict[str, list[Measured]] = {name: [] for name in jobs}
    for _ in range(rounds):
        for name, job in jobs.items():
            found[name].append(job())
    return found


def at_once(jobs: Mapping[str, Callable[[], Measured]], rounds: int) -> dict[str, list[Measured]]:
    """What each job gave in each round; every round does all jobs at the same time.

    For jobs that wait most of the time, each in a process of its own.
    """
    found: dict[str, list[Measured]] = {name: [] for name in jobs}
    with ThreadPoolExecutor(len(jobs)) as pool:
        for _ in range(rounds):
            under_way = {name: pool.submit(job) for name, job in jobs.items()}
            for name, job_under_way in under_way.items():
                found[name].append(job_under_way.result())
    return found


def times(ours: list[float], other: list[float]) -> float:
    """How many times as much ours takes: median of the rounds, each compared with itself."""
    return statistics.median(one / than for one, than in zip(ours, other, strict=True))
