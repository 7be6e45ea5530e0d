"""The value of a step before it is reached: known well enough, or not yet.

A lag model fitted to the half-second blocks (see `lag_bank`) tells the current once the lag is
over. It is believed only while it also foretells the next two seconds, look after look; where it
does not, or where the readings come in bursts, the equivalence test alone decides.

Needs numpy; import it only where a point is predicted.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from acquire.plain_sum import plain_sum
from acquire.settle.blocks import BLOCK_S, Block
from acquire.settle.display_step import step_left
from acquire.settle.lag_bank import (
    AHEAD,
    PHI_PRIOR,
    PHIS,
    SLOPE_OVER_S,
    WINDOW_BLOCKS,
    Floats,
    Mixture,
    Priors,
    Rows,
    Whole,
    fit,
)
from acquire.settle.lore import Lore
from acquire.settle.prediction import Form, Prediction

ROWS_AT_LEAST = 6
OFTEN_BLOCKS = 48
"""After 24 s a look each second is often enough."""
LOOKS_APART = 2
"""Half seconds from look to look then, and the most that one look counts for."""
SHAPE_ERROR = 0.04
"""A real lag is off the model by so much of what is still to come: early blocks weigh less."""
SECOND_SHARE = 0.15
"""A second lag's size is off its usual share by about so much of the whole change."""
TWO_LAG_SHARE = 1.0
"""With two lags, all that is still to come of them counts as doubt: a tail looks like warming."""
TOLD_SHARE = 0.6
"""The doubts above decide when a point may be taken and are wide on purpose: intervals made of them
hold 99 % where they promise 95. So much of them is told as the standard uncertainty (from errors
over stated doubts, 0.54 to 0.69 in simulated signals not used in the benchmark's tables)."""
THERMAL_MEAN_SHARE = -0.001
"""A unit under load warms and loses current: drift over 10 s as a share of the reading."""
SLOPE_UNKNOWN_SD = 0.05
"""Prior of the pull of the speed where nothing is known of it [A/rpm]."""
SLOPE_DOUBT = 0.4
"""Doubt of a pull that is known, as a share of it."""
SIZE_AT_LEAST = 50.0
"""Priors scale with the current, but near no current with so many tolerances."""
DIFFERENCES = 20
"""So many single readings tell the scatter where a block has no more than one."""
QUIET_DISPLAY = 0.3
"""A display step that averages out no better than this links neighbouring blocks."""


def _normal_cdf(x: Floats) -> Floats:
    """Normal distribution function, error below 3e-4 (after Page, Applied Statistics 26, 1977)."""
    return np.asarray(0.5 * (1 + np.tanh(0.7978845608 * x * (1 + 0.044715 * x * x))))


def _within(limit: float, off: Floats, sd: Floats, weight: Floats, dof: float) -> float:
    """Probability that a mixture of Student's t lies within +-limit."""
    t = np.stack([limit - off, -limit - off]) / sd
    shrink = (1 - 1 / (4 * dof)) / np.sqrt(1 + t * t / (2 * dof))
    p = _normal_cdf(t * shrink)
    return float(weight @ (p[0] - p[1]))


class Predictor:
    """Blocks of one step in, a prediction at each look out."""

    def __init__(
        self,
        form: Form,
        *,
        resolution: float,
        horizon_s: float,
        slope_amps_per_rpm: float | None = None,
        with_speed: bool = False,
        lore: Lore | None = None,
    ) -> None:
        self.form = form
        self._resolution = resolution
        self._horizon_s = horizon_s
        self._with_speed = with_speed
        self._pull = slope_amps_per_rpm or 0.0
        known = slope_amps_per_rpm is not None
        self._pull_sd = SLOPE_DOUBT * abs(self._pull) + 1e-9 if known else SLOPE_UNKNOWN_SD
        self._lore = lore or Lore()
        self._means: list[float] = []
        self._counts: list[int] = []
        self._sds: list[float] = []
        self._deviations: list[float] = []
        self._forecasts = _Forecasts()
        self._looked_at = 0
        self._noise: float | None = None
        self._now: float | None = None
        self._in_a_row = 0
        self._latest: Prediction | None = None

    def add(self, block: Block, deviation: float) -> None:
        """Take the next block; `deviation` is the speed's, from the speed set [rpm]."""
        self._means.append(block.mean - self._pull * deviation)
        self._counts.append(block.count)
        self._sds.append(block.sd)
        self._deviations.append(deviation)

    def look(self, t_s: float, tolerance: float) -> Prediction | None:
        """The prediction after the newest block; None while there is too little."""
        seen = len(self._means)
        if seen > OFTEN_BLOCKS and seen % LOOKS_APART and self._latest is not None:
            return self._latest
        self._latest = self._look(t_s, tolerance)
        self._looked_at = seen
        return self._latest

    def _look(self, t_s: float, tolerance: float) -> Prediction | None:
        first = max(0, len(self._means) - WINDOW_BLOCKS)
        counts = np.array(self._counts[first:])
        places = np.nonzero(counts)[0]
        if places.size < ROWS_AT_LEAST:
            self._in_a_row = 0
            return None
        means = np.array(self._means[first:])[places]
        reference = float(means[-1])
        floor, dithered = self._floor(first)
        noise = max(self._noise if self._noise is not None else floor, 0.5 * floor, 1e-9)
        rows = self._rows(places, means - reference, first, reference, noise)
        size = max(abs(reference), SIZE_AT_LEAST * tolerance)
        priors = self._priors(rows, size, noise, floor, dithered)
        usual = THERMAL_MEAN_SHARE * size
        rows.values[:] -= usual * rows.common[:, 1]
        mixture = _moved(fit(rows, priors), reference, usual)
        self._noise = mixture.noise
        u_step = self._resolution * math.sqrt(dithered / 12.0)
        return self._judge(t_s, mixture, tolerance, u_step)

    # ---- rows and priors -------------------------------------------------------------------

    def _floor(self, first: int) -> tuple[float, float]:
        """Least standard deviation of a block, and how far the display step averages out."""
        sds = sorted(s for s, c in zip(self._sds[-80:], self._counts[-80:], strict=True) if c > 1)
        filled = [c for c in self._counts[first:] if c]
        per_block = sum(filled) / len(filled)
        within = sds[len(sds) // 2] if sds else self._from_one_to_the_next(first)
        left = step_left(within, self._resolution)
        step2 = self._resolution**2 / 12.0 * (left + 1.0 / per_block)
        return math.sqrt(step2 + (within**2 / per_block if sds else 0.0)) + 1e-9, left

    def _from_one_to_the_next(self, first: int) -> float:
        """Scatter of blocks of one reading each, by their differences: a lag hardly shows there."""
        kept = [m for m, c in zip(self._means[first:], self._counts[first:], strict=True) if c]
        latest = kept[-DIFFERENCES:]
        squares = [(after - before) ** 2 for before, after in pairwise(latest)]
        return math.sqrt(plain_sum(squares) / len(squares) / 2.0)

    def _rows(
        self, places: Whole, values: Floats, first: int, reference: float, noise: float
    ) -> Rows:
        length = len(self._means) - first
        columns = [np.ones(places.size), ((places + 0.5 - length) * BLOCK_S) / SLOPE_OVER_S]
        if self._with_speed:
            columns.append(np.array(self._deviations[first:])[places])
        weights = np.ones(places.size)
        if self._now is not None:
            to_come = np.abs(values + (reference - self._now))
            error = np.maximum(SHAPE_ERROR * (to_come - 2.0 * noise), 0.0)
            weights = 1.0 / np.sqrt(1.0 + (error / noise) ** 2)
        return Rows(places, values, np.column_stack(columns), weights, length)

    def _priors(
        self,
        rows: Rows,
        size: float,
        noise: float,
        floor: float,
        dithered: float,
    ) -> Priors:
        jump = max(abs(float(rows.values[0])), 3 * noise, 0.02 * size)
        common = [2 * size, self.form.slope_sd * size]
        if self._with_speed:
            common.append(self._pull_sd)
        phi = PHI_PRIOR
        if dithered > QUIET_DISPLAY:
            phi = np.where(PHIS < 0.6, PHI_PRIOR * math.exp(-4.0), PHI_PRIOR)
        return Priors(
            np.array(common),
            max(0.5 * size, 1.5 * jump),
            SECOND_SHARE * jump,
            noise,
            floor,
            phi,
            self._lore.two_lags,
            self._lore.lag_s,
        )

    # ---- judgement -------------------------------------------------------------------------

    def _judge(self, t_s: float, mixture: Mixture, tolerance: float, u_step: float) -> Prediction:
        w = mixture.weight
        seen = len(self._means)
        check = self._forecasts.check(seen, self._recent_mean())
        self._forecasts.make(seen, mixture)
        misfit = self._forecasts.misfit(seen)
        final, final_sd = self._final(mixture, misfit)
        p_known = _within(tolerance, mixture.final - final, final_sd, w, mixture.dof)
        limit = self.form.slope_tolerances * tolerance * SLOPE_OVER_S / self._horizon_s
        p_slope = _within(limit, mixture.slope, misfit * mixture.slope_sd, w, mixture.dof)
        doubt = _spread(w, mixture.final, final_sd)
        left, lag = float(w @ mixture.left), np.log(mixture.tau_s)
        self._now = final + left
        self._count(p_known, p_slope, check)
        return Prediction(
            t_s=t_s,
            value=final,
            u=math.hypot(TOLD_SHARE * doubt, u_step),
            u_wide=math.hypot(doubt, u_step),
            dof=mixture.dof,
            p_known=p_known,
            p_slope=p_slope,
            check=check,
            misfit=misfit,
            left=left,
            slope=float(w @ mixture.slope),
            u_slope=_spread(w, mixture.slope, mixture.slope_sd),
            lag_s=math.exp(float(w @ lag)),
            lag_spread=_spread(w, lag, np.zeros_like(lag)),
            two_lags=float(w @ mixture.two),
            noise=mixture.noise,
            in_a_row=self._in_a_row,
            ready=self._in_a_row >= self.form.blocks,
        )

    def _final(self, mixture: Mixture, misfit: float) -> tuple[float, Floats]:
        """The final value, and each cell's doubt of it: fit, misfit, and what is yet to come."""
        share = np.where(mixture.two, TWO_LAG_SHARE, self.form.left_share)
        sd = np.hypot(misfit * mixture.final_sd, share * mixture.left)
        return float(mixture.weight @ mixture.final), sd

    def _count(self, p_known: float, p_slope: float, check: float) -> None:
        """Count the half seconds in a row for which all is good."""
        form, seen = self.form, len(self._means)
        good = (
            p_known >= form.known
            and p_slope >= form.slope_within
            and abs(check) <= form.check
            and seen * BLOCK_S >= form.earliest_s
        )
        since = min(seen - self._looked_at, LOOKS_APART)
        self._in_a_row = self._in_a_row + since if good else 0

    def _recent_mean(self) -> float:
        """Mean of the last AHEAD blocks; nan when all are empty."""
        counts = self._counts[-AHEAD:]
        recent = [m for m, c in zip(self._means[-AHEAD:], counts, strict=True) if c]
        return plain_sum(recent) / len(recent) if recent else math.nan


class _Forecasts:
    """Forecasts of the next AHEAD blocks, kept until they can be checked."""

    def __init__(self) -> None:
        self._made: dict[int, tuple[float, float]] = {}
        """Mean and standard deviation, by the number of blocks seen when each was made."""
        self._checks: dict[int, float] = {}

    def make(self, seen: int, mixture: Mixture) -> None:
        """Foretell the mean of the next AHEAD blocks."""
        w = mixture.weight
        sd = _spread(w, mixture.ahead, mixture.ahead_sd)
        self._made[seen] = float(w @ mixture.ahead), max(sd, 1e-9)
        self._made.pop(seen - 2 * AHEAD, None)

    def check(self, seen: int, mean: float) -> float:
        """Error of the forecast made AHEAD blocks ago over its doubt; nan when none was made."""
        made = self._made.pop(seen - AHEAD, None)
        check = (mean - made[0]) / made[1] if made is not None else math.nan
        self._checks[seen] = check
        self._checks.pop(seen - 2 * AHEAD, None)
        return check

    def misfit(self, seen: int) -> float:
        """Root mean square of the checks now, 1 s and 2 s ago; never below 1."""
        made = [self._checks.get(seen - back, math.nan) for back in (0, 2, 4)]
        checks = [c for c in made if not math.isnan(c)]
        return math.sqrt(max(1.0, plain_sum(c * c for c in checks) / 3.0))


def _spread(weight: Floats, values: Floats, sds: Floats) -> float:
    """Standard deviation of a mixture: within its cells and between them."""
    mean = float(weight @ values)
    return math.sqrt(float(weight @ (sds**2 + (values - mean) ** 2)))


def _moved(mixture: Mixture, reference: float, usual: float) -> Mixture:
    """Back to amps from the reference, and the usual warming added again."""
    soon = usual * (AHEAD * BLOCK_S / 2 / SLOPE_OVER_S)
    return replace(
        mixture,
        final=mixture.final + reference,
        slope=mixture.slope + usual,
        ahead=mixture.ahead + reference + soon,
    )
