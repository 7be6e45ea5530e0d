"""What this process holds: memory, files, threads; and whether it grows."""

from __future__ import annotations

import gc
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

MB = 1e6
MEMORY_MAY_GROW_MB = 12.0
"""Over the whole day, by the slope from the second hour on; index and tally do grow a little."""


@dataclass(frozen=True)
class Held:
    """At one hour."""

    hour: float
    memory_mb: float | None
    """Resident, after collecting garbage; None where the system does not say."""
    files: int | None
    threads: int


def held_now(hour: float) -> Held:
    """Look."""
    gc.collect()
    return Held(hour, _memory_mb(), _files(), threading.active_count())


def _memory_mb() -> float | None:
    status = Path("/proc/self/status")
    if not status.is_file():
        return None
    (line,) = [one for one in status.read_text().splitlines() if one.startswith("VmRSS:")]
    return float(line.split()[1]) * 1024 / MB


def _files() -> int | None:
    folder = Path("/proc/self/fd")
    return len(list(folder.iterdir())) if folder.is_dir() else None


def growth(held: Sequence[Held]) -> list[str]:
    """What grows, in words; the first hour is left out: things are loaded then."""
    later = [one for one in held if one.hour >= 1.0]
    grows = []
    memory = [(one.hour, one.memory_mb) for one in later if one.memory_mb is not None]
    rise = _slope(memory) * (memory[-1][0] - memory[0][0]) if len(memory) >= 3 else 0.0
    if rise > MEMORY_MAY_GROW_MB:
        grows.append(f"memory grows by {rise:.1f} MB over the whole")
    for name in ("files", "threads"):
        values = [(one.hour, float(getattr(one, name) or 0)) for one in later]
        if len(values) >= 2 and values[-1][1] > values[0][1]:
            grows.append(
                f"{name}: {values[0][1]:.0f} after an hour, {values[-1][1]:.0f} at the end"
            )
    return grows


def _slope(values: Sequence[tuple[float, float]]) -> float:
    """Of the straight line of least squares, per hour."""
    mean_x = sum(x for x, _ in values) / len(values)
    mean_y = sum(y for _, y in values) / len(values)
    spread = sum((x - mean_x) ** 2 for x, _ in values)
    return sum((x - mean_x) * (y - mean_y) for x, y in values) / spread if spread else 0.0
