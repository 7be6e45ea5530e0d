"""Settled or not, as an equivalence test on the drift.

Steady is what must be shown, not what is assumed: a reading counts as settled when the drift over
the look-ahead, its 95 % doubt included, is smaller than the tolerance (two one-sided tests:
Schuirmann, J. Pharmacokinetics and Biopharmaceutics 15, 1987, 657-680). Noise makes such a test
wait; it never makes it say "steady". The window grows from 10 to 20 and 40 seconds, because the
doubt of a slope shrinks with the window's length to the power 3/2.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice, pairwise
from typing import Literal

from acquire.plain_sum import plain_sum
from acquire.settle.blocks import BLOCK_S, Block
from acquire.settle.display_step import scatter_floor, step_u
from acquire.settle.student import student_quantile
from acquire.settle.tolerance import Tolerance

State = Literal["still", "rising", "falling", "hunting", "noisy", "waiting"]

GROUPS = 10
"""A window is cut into ten groups: enough for a slope, few enough that their noise is unlinked."""
GROUPS_AT_LEAST = 8
"""With more gaps than that a window is no window."""
WINDOW_BLOCKS = (20, 40, 80)
"""Windows of 10, 20 and 40 s."""
SLOW_WINDOW_BLOCKS = (160, 320)
"""80 and 160 s: only for instruments too slow to fill the groups of a shorter window."""
SHORT_WINDOW_BLOCKS = 10
"""5 s: for what must merely not disturb a predicted point."""
LINKED = 0.3
"""Lag-1 correlation of group residuals above which groups are joined in pairs."""
LOOKS_IN_A_ROW = 5
"""So many looks must pass one after the other: of many looks one passes by chance."""
LOOKS_IN_A_ROW_THERMAL = 10
"""The same while the warming itself must have died out: it is slow, and hides in noise longer."""
LOOK_BLOCKS = 2
"""A look each second."""
CONFIDENCE = 0.95
"""Of each of the two one-sided tests."""


@dataclass(frozen=True, slots=True)
class Look:
    """What one window of one channel shows."""

    t_s: float
    """End of the window [s]."""
    window_s: float
    drift: float
    """Drift over the look-ahead, in the channel's unit of measure."""
    half_width: float
    """One-sided 95 % doubt of that drift."""
    tolerance: float
    mean: float
    """Mean over the window."""
    end_value: float
    """The straight line through the window, at its end."""
    u_mean: float
    """Standard uncertainty of the mean: scatter of groups and display step."""
    u_end: float
    """Standard uncertainty of the end value: scatter of groups and display step."""
    dof: int
    correlation: float
    """Lag-1 correlation of the groups' residuals."""
    readings: int
    in_a_row: int = 0
    """Looks in a row that passed, this one included."""
    settled: bool = False

    @property
    def passes(self) -> bool:
        """True when drift and doubt together are within the tolerance."""
        return abs(self.drift) + self.half_width <= self.tolerance

    @property
    def drifts(self) -> bool:
        """True when the drift is more than its doubt: the line's end then beats the mean."""
        return abs(self.drift) > self.half_width

    @property
    def state(self) -> State:
        """One word for the screen."""
        if self.passes:
            return "still"
        if self.drifts:
            return "rising" if self.drift > 0 else "falling"
        return "hunting" if self.correlation > LINKED else "noisy"


@dataclass(slots=True)
class _Groups:
    """Means of equal stretches of a window: times from its end [s], values, readings."""

    times: list[float]
    values: list[float]
    readings: int
    within_sd: float


def _median(values: list[float]) -> float:
    values.sort()
    return values[len(values) // 2] if values else 0.0


def _gather(blocks: Sequence[Block], per_group: int) -> _Groups:
    """Join the last GROUPS x per_group blocks into groups; empty groups are left out."""
    window = list(blocks)[-GROUPS * per_group :]
    times, values, sds = [], [], []
    readings = 0
    for k in range(GROUPS):
        count, total = 0, 0.0
        for block in window[k * per_group : (k + 1) * per_group]:
            if block.count:
                count += block.count
                total += block.count * block.mean
                if block.count > 1:
                    sds.append(block.sd)
        if count:
            times.append((k + 0.5 - GROUPS) * per_group * BLOCK_S)
            values.append(total / count)
            readings += count
    return _Groups(times, values, readings, _median(sds))


def lag_one(residuals: Sequence[float]) -> float:
    """Lag-1 autocorrelation of `residuals` (mean taken as zero)."""
    squares = plain_sum(r * r for r in residuals)
    if squares <= 0.0:
        return 0.0
    return plain_sum(a * b for a, b in pairwise(residuals)) / squares


def _mean_u(residuals: Sequence[float], squares: float, correlation: float) -> tuple[float, int]:
    """Batch-means uncertainty of the window's mean, and its degrees of freedom.

    Ten groups; five when neighbours are still linked, so that the scatter is that of longer means.
    """
    n = len(residuals)
    if correlation <= LINKED:
        return math.sqrt(squares / (n - 2) / n), n - 2
    pairs = [(a + b) / 2 for a, b in zip(residuals[::2], residuals[1::2], strict=False)]
    joined = plain_sum(p * p for p in pairs)
    wide = math.sqrt(joined / (len(pairs) - 2) / len(pairs))
    return max(wide, math.sqrt(squares / (n - 2) / n)), len(pairs) - 2


def look_at(
    blocks: Sequence[Block], window_blocks: int, tolerance: Tolerance, t_s: float
) -> Look | None:
    """The test on the last `window_blocks` blocks; None where they are too few or too empty."""
    if len(blocks) < window_blocks:
        return None
    groups = _gather(blocks, window_blocks // GROUPS)
    n = len(groups.values)
    if n < GROUPS_AT_LEAST:
        return None
    mid_t, mean = plain_sum(groups.times) / n, plain_sum(groups.values) / n
    off = [t - mid_t for t in groups.times]
    spread = plain_sum(x * x for x in off)
    slope = plain_sum(x * (v - mean) for x, v in zip(off, groups.values, strict=True)) / spread
    residuals = [v - mean - slope * x for x, v in zip(off, groups.values, strict=True)]
    squares = plain_sum(r * r for r in residuals)
    correlation = lag_one(residuals)
    floor = scatter_floor(groups.within_sd, tolerance.resolution, groups.readings / n)
    scatter = math.sqrt(max(squares / (n - 2), floor))
    u_mean, dof = _mean_u(residuals, squares, correlation)
    u_step = step_u(groups.within_sd, tolerance.resolution)
    horizon_s = tolerance.horizon_s
    return Look(
        t_s=t_s,
        window_s=window_blocks * BLOCK_S,
        drift=slope * horizon_s,
        half_width=student_quantile(CONFIDENCE, n - 2) * scatter / math.sqrt(spread) * horizon_s,
        tolerance=tolerance.drift,
        mean=mean,
        end_value=mean - slope * mid_t,
        u_mean=math.hypot(u_mean, u_step),
        u_end=math.hypot(u_mean, u_step, scatter / math.sqrt(spread) * mid_t),
        dof=dof,
        correlation=correlation,
        readings=groups.readings,
    )


class DriftTest:
    """The growing window, look after look, on blocks that somebody else closes."""

    __slots__ = ("_in_a_row", "_needed")

    def __init__(self, *, thermal: bool = False) -> None:
        self._needed = LOOKS_IN_A_ROW_THERMAL if thermal else LOOKS_IN_A_ROW
        self._in_a_row = 0

    def restart(self) -> None:
        """Begin to count again."""
        self._in_a_row = 0

    def look(self, blocks: Sequence[Block], tolerance: Tolerance, t_s: float) -> Look | None:
        """One look: the shortest window that passes, else the one nearest to passing."""
        best: Look | None = None
        for window in _windows(blocks):
            found = look_at(blocks, window, tolerance, t_s)
            if found is None:
                continue
            if found.passes:
                best = found
                break
            if best is None or _bound(found) < _bound(best):
                best = found
        if best is None:
            self._in_a_row = 0
            return None
        self._in_a_row = self._in_a_row + 1 if best.passes else 0
        return _counted(best, self._in_a_row, self._in_a_row >= self._needed)


def _bound(look: Look) -> float:
    return abs(look.drift) + look.half_width


def _windows(blocks: Sequence[Block]) -> tuple[int, ...]:
    """The usual windows, and longer ones where readings are more than 2 s apart."""
    longest = WINDOW_BLOCKS[-1]
    if len(blocks) <= longest:
        return WINDOW_BLOCKS
    filled = sum(b.count > 0 for b in islice(reversed(blocks), longest))
    return WINDOW_BLOCKS if 4 * filled >= longest else WINDOW_BLOCKS + SLOW_WINDOW_BLOCKS


def _counted(look: Look, in_a_row: int, settled: bool) -> Look:
    return replace(look, in_a_row=in_a_row, settled=settled)
