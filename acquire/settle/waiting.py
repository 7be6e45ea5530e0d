"""How much longer it may take, and for what: for the screen, roughly."""

from __future__ import annotations

import math
from collections.abc import Mapping

from acquire.settle.blocks import BLOCK_S
from acquire.settle.channel_watch import ChannelWatch
from acquire.settle.equivalence import LOOKS_IN_A_ROW, SHORT_WINDOW_BLOCKS, WINDOW_BLOCKS
from acquire.settle.looks import CURRENT
from acquire.settle.prediction import Form, Prediction

EARLIEST_GOOD_S = 5.0
"""The first forecast is made after 3 s and checked 2 s later; before, nothing is believed [s]."""
AHEAD_S = 2.0
"""A forecast that missed is forgotten after so long [s]."""
DOUBT_WITHIN = 2.05
"""Doubts that fit into a tolerance when it is known with 96 %."""
SHORT_OF = 0.15
"""What is nearly known takes about this share of the time gone by."""


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


def about_predicted_s(
    watches: Mapping[str, ChannelWatch], prediction: Prediction | None, form: Form, elapsed_s: float
) -> float:
    """A rough estimate of the wait until the point can be taken early [s].

    All of it must be met at once, so the longest wait counts: the current's final value, its
    thermal drift, and the others quiet.
    """
    row_s = form.blocks * BLOCK_S
    waits = [EARLIEST_GOOD_S + row_s - elapsed_s, row_s]
    waits += [_quiet_s(w) for n, w in watches.items() if w.plan.must_hold and n != CURRENT]
    if prediction is not None:
        tolerance = max(watches[CURRENT].tolerance().drift, 1e-12)
        waits[1] = max(form.blocks - prediction.in_a_row, 1) * BLOCK_S
        waits.append(_known_s(prediction, tolerance, form, elapsed_s))
    return max(waits)


def _known_s(prediction: Prediction, tolerance: float, form: Form, elapsed_s: float) -> float:
    """Wait until final value and drift are known so well.

    About a tolerance of the lag may still be to come; doubts shrink with time.
    """
    lag_s = prediction.lag_s * math.log(max(abs(prediction.left) / tolerance, 1.0))
    doubt = DOUBT_WITHIN * prediction.u_wide / tolerance
    drift = abs(prediction.slope) + prediction.u_slope
    steep = (drift / (form.slope_tolerances * tolerance)) ** (2.0 / 3.0)
    longer = 0.0
    if prediction.p_known < form.known:
        with_lag = prediction.lag_s * math.log(max(doubt, 1.0)) / elapsed_s
        longer = max(min(doubt - 1.0, with_lag), SHORT_OF)
    if prediction.p_slope < form.slope_within:
        longer = max(longer, steep - 1.0, SHORT_OF)
    misfit_s = AHEAD_S if abs(prediction.check) > form.check else 0.0
    noise_s = min(elapsed_s * longer, 60.0)
    return max(lag_s, noise_s, misfit_s) + (form.blocks * BLOCK_S if longer else 0.0)


def _quiet_s(watch: ChannelWatch) -> float:
    """Wait until a channel no longer disturbs an early point: its last five seconds pass."""
    if watch.quiet:
        return 0.0
    window_s = SHORT_WINDOW_BLOCKS * BLOCK_S
    look = watch.short
    if look is None:
        return max(window_s - watch.series.closed * BLOCK_S, 1.0)
    if not look.drifts:
        return window_s / 2.0
    reach = (abs(look.drift) + look.half_width) / max(look.tolerance, 1e-12)
    # As if the drift fell by half in half a window.
    return min(window_s / 2.0 * math.log2(max(reach, 1.5)), 2.0 * window_s)
