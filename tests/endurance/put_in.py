"""The program put into a world: its threads, its time and its chance are the world's."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import SimpleNamespace
from typing import Any

import acquire.bench
import acquire.pump_watch
import acquire.record.growing_file
import acquire.record.run_folder
import acquire.record.run_name
import acquire.record.sync_thread
import acquire.stop_notes
import acquire.stop_path
import drivers.bench_wiring
import drivers.modbus
import drivers.pending
import drivers.port
import drivers.reading_queue
import drivers.scpi
import drivers.wall
from acquire.record.files import DISK, Files
from acquire.record.reopen import reopen
from acquire.record.run_folder import RunFolder
from drivers.reading_queue import ReadingQueue
from tests.endurance.world import SimpleQueue, Threading, World

WAITING = (
    acquire.bench,
    acquire.pump_watch,
    acquire.record.growing_file,
    acquire.record.run_folder,
    acquire.record.sync_thread,
    acquire.stop_notes,
    acquire.stop_path,
    drivers.bench_wiring,
    drivers.pending,
    drivers.port,
    drivers.reading_queue,
    drivers.wall,
)
"""Modules that start threads, wait, or look at the computer's clock."""
BY_CHANCE = (drivers.modbus, drivers.scpi)


@contextmanager
def living_in(
    world: World,
    disk: Files,
    link_for: Callable[..., object],
    queue: Callable[[], ReadingQueue] = ReadingQueue,
) -> Iterator[None]:
    """While entered, the program lives in `world`, writes to `disk` and talks through `link_for`.

    The parts of the program are its own; only the modules of Python that wait, and the outermost
    layer of files and ports, are replaced.
    """
    chance = random.Random(world.random.random())
    threads = Threading(world)
    stands_in = {
        "threading": threads,
        "time": world,
        "steady_s": world.monotonic_s,
        "SimpleQueue": lambda: SimpleQueue(world),
    }
    changes: list[tuple[Any, str, object]] = [
        (one, name, new) for one in WAITING for name, new in stands_in.items() if name in vars(one)
    ]
    seeded = SimpleNamespace(SystemRandom=lambda: chance)
    changes += [(one, "random", seeded) for one in BY_CHANCE]
    changes.append((acquire.record.run_name, "secrets", SimpleNamespace(choice=chance.choice)))
    changes.append((drivers.bench_wiring, "link_for", link_for))
    changes.append((drivers.bench_wiring, "ReadingQueue", queue))
    changes.append((drivers.bench_wiring, "take_lock", lambda *_a, **_k: _NO_LOCK))
    writers = [_defaults(RunFolder.create.__func__), _defaults(reopen)]  # type: ignore[attr-defined]
    before = [(place, name, vars(place)[name]) for place, name, _ in changes]
    for place, name, new in changes:
        setattr(place, name, new)
    for by_default in writers:
        by_default["files"] = disk
    try:
        yield
    finally:
        for by_default in writers:
            by_default["files"] = DISK
        for place, name, old in before:
            setattr(place, name, old)


def _defaults(function: Callable[..., object]) -> dict[str, Any]:
    """What its arguments are where nobody gives them: the disk, among others."""
    found: dict[str, Any] | None = function.__kwdefaults__
    assert found is not None
    return found


class _NoLock:
    """One program, one world: nobody else is there to be kept out."""

    def release(self) -> None:
        """Nothing was taken."""


_NO_LOCK = _NoLock()
