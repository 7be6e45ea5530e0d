"""How much longer it may take, and for what: for the screen, roughly."""

from __future__ import annotations

import math
from collections.abc import Mapping

from acquire.settle.blocks import BLOCK_S
from acquire.settle.channel_watch import ChannelWatch
from acquire.settle.equivalence import LOOKS_IN_A_ROW, WINDOW_BLOCKS
from acquire.settle.prediction import Prediction

NEARLY = 0.3
"""A point can be predicted when about this share of a tolerance is still to come."""


def waiting_for(watches: Mapping[str, ChannelWatch]) -> str:
    """The channel farthest from settled: silent ones first, then by drift over tolerance."""
    worst, worst_by = "", -math.inf
    for name, watch in watches.items():
        if not watch.plan.must_hold or watch.settled:
            continue
        by = _reach(watch)
        if by > worst_by:
            worst, worst_by = name, by
    return worst


def _reach(watch: ChannelWatch) -> float:
    """Drift and doubt over the tolerance; infinite without a window."""
    look = watch.newest
    if look is None:
        return math.inf
    return (abs(look.drift) + look.half_width) / max(look.tolerance, 1e-12)


def about_s(watches: Mapping[str, ChannelWatch]) -> float:
    """A rough estimate of the wait until every channel that must hold still is settled [s]."""
    waits = [_wait_s(w) for w in watches.values() if w.plan.must_hold and not w.settled]
    return max(waits, default=0.0)


def _wait_s(watch: ChannelWatch) -> float:
    """Wait for one channel: its looks in a row, a longer window, or its lag."""
    look = watch.look
    if look is None:
        filled_s = watch.series.closed * BLOCK_S
        return max(WINDOW_BLOCKS[0] * BLOCK_S + LOOKS_IN_A_ROW - filled_s, 1.0)
    if look.passes:
        return float(max(LOOKS_IN_A_ROW - look.in_a_row, 0))
    reach = _reach(watch)
    if look.drifts:
        # As if the drift fell by half every five seconds: half the window's own length.
        return 5.0 * math.log2(max(reach, 2.0)) + LOOKS_IN_A_ROW
    longer_s = look.window_s * math.pow(reach, 2.0 / 3.0)
    return max(longer_s - look.window_s, 0.0) + LOOKS_IN_A_ROW


def about_predicted_s(prediction: Prediction, tolerance: float, elapsed_s: float) -> float:
    """A rough estimate of the wait until the final value is known well enough [s]."""
    lag_s = prediction.lag_s * math.log(
        max(abs(prediction.left) / (NEARLY * max(tolerance, 1e-12)), 1.0)
    )
    noise_s = elapsed_s * (max(2.0 * prediction.u / max(tolerance, 1e-12), 1.0) - 1.0)
    return max(lag_s, min(noise_s, 60.0), BLOCK_S)
