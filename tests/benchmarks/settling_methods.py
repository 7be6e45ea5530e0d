"""Published rules for "is it steady yet", all on the same signal, one look a second.

Each takes the cleaned signal (a `Track`) and gives the second at which it declares, or None. The
formulas are those of the papers named beside them; the parameters are the usual ones.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view
from scipy import stats
from scipy.signal import lfilter

from tests.benchmarks.settling_signals import HORIZON_S, Floats, Signal

WINDOW = 10
"""Block means of 1 s in a window."""
FIT_LAGS_S = np.geomspace(0.4, 1200.0, 30)


@dataclass(frozen=True, slots=True)
class Track:
    """A signal cleaned of spikes, and its means over whole seconds (NaN where empty)."""

    tolerance: float
    rate_hz: int
    clean: Floats
    means: Floats
    windows: Floats
    """(look, WINDOW): the last ten means at each look."""

    @property
    def looks_s(self) -> Floats:
        """Time of each look [s]."""
        return np.arange(WINDOW, WINDOW + len(self.windows), dtype=np.float64)


def without_spikes(values: Floats, step: float) -> Floats:
    """Hampel filter over seven readings; spikes become NaN, the third in a row passes."""
    known = np.nonzero(~np.isnan(values))[0]
    x = values[known]
    if x.size <= 7:
        return values
    before = sliding_window_view(x, 7)[:-1]
    middle = np.median(before, axis=1)
    spread = 1.4826 * np.median(np.abs(before - middle[:, None]), axis=1)
    wild = np.zeros(x.size, dtype=bool)
    wild[7:] = np.abs(x[7:] - middle) > 5.0 * np.maximum(spread, step)
    run = wild.copy()
    run[2:] &= ~(wild[1:-1] & wild[:-2])
    out = values.copy()
    out[known[run]] = np.nan
    return out


def track_of(signal: Signal) -> Track:
    """Clean a signal and cut it into seconds."""
    clean = without_spikes(signal.amps, signal.machine.step)
    rate_hz = signal.machine.rate_hz
    seconds = clean[: int(signal.limit_s) * rate_hz].reshape(-1, rate_hz)
    count = (~np.isnan(seconds)).sum(1)
    means = np.where(count > 0, np.nansum(seconds, axis=1) / np.maximum(count, 1), np.nan)
    windows = sliding_window_view(means, WINDOW)
    return Track(signal.tolerance, rate_hz, clean, means, windows)


def _first(track: Track, passes: npt.ArrayLike) -> float | None:
    """Second of the first look that passes."""
    hits = np.nonzero(np.asarray(passes))[0]
    return float(track.looks_s[hits[0]]) if hits.size else None


def _slopes(track: Track) -> tuple[Floats, Floats, Floats]:
    """Slope per second, its standard error and the known means at each look (least squares)."""
    z = track.windows
    known = ~np.isnan(z)
    n = known.sum(1)
    x = np.where(known, np.arange(WINDOW, dtype=np.float64)[None, :], 0.0)
    filled = np.where(known, z, 0.0)
    n1 = np.maximum(n, 1)
    off = np.where(known, x - (x.sum(1) / n1)[:, None], 0.0)
    centred = np.where(known, filled - (filled.sum(1) / n1)[:, None], 0.0)
    spread = np.maximum((off**2).sum(1), 1e-12)
    slope = (off * centred).sum(1) / spread
    squares = ((centred - slope[:, None] * off) ** 2).sum(1)
    error = np.sqrt(squares / np.maximum(n - 2, 1) / spread)
    enough = n >= WINDOW - 2
    return slope, np.where(enough, error, np.nan), n.astype(np.float64)


def dwell(seconds: int) -> Callable[[Track], float | None]:
    """Wait a fixed time."""
    return lambda track: float(seconds)


def band(track: Track) -> float | None:
    """All ten means within one tolerance (the rule of thumb of many test codes)."""
    with np.errstate(invalid="ignore"):
        return _first(track, track.windows.max(1) - track.windows.min(1) <= track.tolerance)


def point_slope(track: Track) -> float | None:
    """The fitted slope alone, no doubt allowed for."""
    slope, error, _ = _slopes(track)
    return _first(track, (np.abs(slope) * HORIZON_S <= track.tolerance) & ~np.isnan(error))


@cache
def _two_sided(dof: int) -> float:
    return float(stats.t.ppf(0.975, max(dof, 1)))


def slope_t_test(track: Track) -> float | None:
    """Steady when the slope is not significant at 5 % (a null test)."""
    slope, error, n = _slopes(track)
    limit = np.array([_two_sided(int(k) - 2) for k in n])
    with np.errstate(invalid="ignore"):
        return _first(track, np.abs(slope) <= limit * error)


def r_statistic(track: Track) -> float | None:
    """Cao and Rhinehart, J. Process Control 5 (1995) 363-374: lambda .1, .05, .05 at 4 Hz.

    Critical value 1.31: the 95 % point for white noise.
    """
    every = max(1, track.rate_hz // 4)
    x = track.clean[::every]
    x = x[~np.isnan(x)]
    ratio = rhinehart_ratio(x, 0.1, 0.05, 0.05)
    per_s = track.rate_hz / every * x.size / max(track.clean[::every].size, 1)
    hits = np.nonzero((ratio <= 1.31) & (np.arange(x.size) >= 10 * per_s))[0]
    return float((hits[0] + 1) / per_s) if hits.size else None


def rhinehart_ratio(x: Floats, l1: float, l2: float, l3: float) -> Floats:
    """Ratio of two estimates of the variance, by exponential filters."""
    filtered = lfilter([l1], [1, -(1 - l1)], x, zi=[(1 - l1) * x[0]])[0]
    before = np.concatenate([[x[0]], filtered[:-1]])
    variance = lfilter([l2], [1, -(1 - l2)], (x - before) ** 2)
    steps = lfilter([l3], [1, -(1 - l3)], np.diff(x, prepend=x[0]) ** 2)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray((2 - l1) * variance / steps, dtype=np.float64)


def variance_ratio(track: Track) -> float | None:
    """Variance over half the mean squared successive difference (von Neumann, 1941)."""
    z = track.windows
    with np.errstate(invalid="ignore"):
        around = z.var(1, ddof=1)
        successive = (np.diff(z, axis=1) ** 2).mean(1) / 2
        return _first(track, around <= 1.9 * successive)


def cusum(track: Track) -> float | None:
    """Cumulative sums of the last five means against the five before (Page, 1954): k .5, h 4."""
    z = track.windows
    with np.errstate(invalid="ignore"):
        sd = np.maximum(np.sqrt((np.diff(z, axis=1) ** 2).mean(1) / 2), 1e-9)
        up = down = np.zeros(len(z))
        alarm = np.isnan(z).any(1)
        for k in range(5, WINDOW):
            u = (z[:, k] - z[:, :5].mean(1)) / sd
            up, down = np.maximum(0.0, up + u - 0.5), np.maximum(0.0, down - u - 0.5)
            alarm = alarm | (up > 4.0) | (down > 4.0)
    return _first(track, ~alarm)


def kelly_hedengren(track: Track) -> float | None:
    """Kelly and Hedengren, J. Process Control 23 (2013) 326-331: t 2, P 0.9, window 10 s."""
    rate_hz = track.rate_hz
    thin = max(1, 10 * rate_hz // 200)
    for end_s in range(WINDOW, len(track.means) + 1):
        w = track.clean[(end_s - 10) * rate_hz : end_s * rate_hz]
        w = w[~np.isnan(w)][::thin]
        if w.size < 10:
            continue
        if share_of_steady(w, 2.0) >= 0.9:
            return float(end_s)
    return None


def share_of_steady(w: Floats, t_critical: float) -> float:
    """Share of the readings near the window's intercept, the slope being the mean difference."""
    n = w.size
    slope = (w[-1] - w[0]) / (n - 1)
    t = np.arange(n)
    level = (w.sum() - slope * t.sum()) / n
    sd = math.sqrt(float(((w - slope * t - level) ** 2).sum()) / (n - 2))
    return 1.0 if sd == 0 else float((np.abs(w - level) <= t_critical * sd).mean())


def mser_5(track: Track) -> float | None:
    """MSER-5 (White, Simulation 69, 1997, 323-334) on means of 1 s, five to a batch, from 20 s."""
    for end_s in range(20, len(track.means) + 1, 5):
        z = track.means[:end_s]
        batches = np.nanmean(np.where(np.isnan(z), np.nanmean(z), z).reshape(-1, 5), axis=1)
        if truncation(batches) <= batches.size / 2:
            return float(end_s)
    return None


def truncation(batches: Floats) -> int:
    """How many batches to leave out so that the mean's squared error is least."""
    n = batches.size
    tails = [
        float(((batches[d:] - batches[d:].mean()) ** 2).sum()) / (n - d) ** 2 for d in range(n - 2)
    ]
    return int(np.argmin(tails)) if tails else 0


def exponential_fit(track: Track) -> float | None:
    """One exponential fitted to all means so far; steady when it will move no more than allowed."""
    middle = np.arange(len(track.means)) + 0.5
    for end_s in range(12, len(track.means) + 1, 2):
        known = ~np.isnan(track.means[:end_s])
        x, z = middle[:end_s][known], track.means[:end_s][known]
        shapes = np.exp(-x[None, :] / FIT_LAGS_S[:, None])
        off = shapes - shapes.mean(1, keepdims=True)
        centred = z - z.mean()
        spread = np.maximum((off**2).sum(1), 1e-12)
        size = off @ centred / spread
        squares = ((centred[None, :] - size[:, None] * off) ** 2).sum(1)
        best = int(np.argmin(squares))
        lag_s = FIT_LAGS_S[best]
        moves = size[best] * math.exp(-end_s / lag_s) * (math.exp(-HORIZON_S / lag_s) - 1)
        if abs(moves) <= track.tolerance:
            return float(end_s)
    return None


METHODS: dict[str, Callable[[Track], float | None]] = {
    "fixed dwell 10 s": dwell(10),
    "fixed dwell 20 s": dwell(20),
    "fixed dwell 30 s": dwell(30),
    "fixed dwell 60 s": dwell(60),
    "band": band,
    "point slope": point_slope,
    "slope t-test": slope_t_test,
    "R statistic": r_statistic,
    "variance ratio": variance_ratio,
    "CUSUM": cusum,
    "Kelly-Hedengren": kelly_hedengren,
    "MSER-5": mser_5,
    "exponential fit": exponential_fit,
}


def recorded(track: Track, at_s: float) -> tuple[float, float]:
    """What such a method records: mean of the last 10 s (half the time waited at most), its U95.

    Batch means, five batches; NaN with too few seconds.
    """
    width = int(min(10, max(at_s / 2, 3)))
    z = track.means[int(at_s) - width : int(at_s)]
    z = z[~np.isnan(z)]
    if z.size < 3:
        return math.nan, math.nan
    batches = z[: z.size // 5 * 5].reshape(5, -1).mean(1) if z.size >= 10 else z
    factor = _two_sided(batches.size - 1)
    return float(z.mean()), factor * float(batches.std(ddof=1)) / math.sqrt(batches.size)
