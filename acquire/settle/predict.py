"""The value of a step before it is reached: known well enough, or not yet.

A lag model fitted to the half-second blocks (see `lag_bank`) tells the current once the lag is
over. It is believed only while it also foretells the next two seconds, look after look; where it
does not, or where the readings come in bursts, the equivalence test alone decides.

Needs numpy; import it only where a point is predicted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

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

ROWS_AT_LEAST = 6
OFTEN_BLOCKS = 48
"""After 24 s a look each second is often enough."""
SHAPE_ERROR = 0.04
"""A real lag is off the model by so much of what is still to come: early blocks weigh less."""
SECOND_SHARE = 0.15
THERMAL_MEAN_SHARE = -0.001
"""A unit under load warms and loses current: drift over 10 s as a share of the reading."""
TWO_LAG_SHARE = 1.0
SLOPE_UNKNOWN_SD = 0.05
"""Prior of the pull of the speed where nothing is known of it [A/rpm]."""
SLOPE_DOUBT = 0.4
"""Doubt of a pull that is known, as a share of it."""


@dataclass(frozen=True, slots=True)
class Form:
    """How much must be known before a point is taken."""

    known: float
    """Probability that the final value is within the tolerance."""
    slope_within: float
    """Probability that the thermal drift over the horizon is within `slope_tolerances`."""
    slope_tolerances: float
    slope_sd: float
    """Prior of the thermal drift over the horizon, as a share of the reading."""
    check: float
    """Largest error of the 2 s forecast, in its own standard deviations."""
    left_share: float
    """Share of the lag still to come that counts as doubt."""
    blocks: int
    """For so many half seconds in a row."""
    earliest_s: float


CAUTIOUS = Form(0.96, 0.8, 1.25, 0.0025, 2.5, 0.15, 3, 4.0)
FAST = Form(0.95, 0.8, 3.0, 0.0025, 2.5, 0.15, 3, 4.0)


@dataclass(frozen=True, slots=True)
class Prediction:
    """What the bank says at one look."""

    t_s: float
    value: float
    """Current once the lag is over, at the thermal state of now and the speed set [A]."""
    u: float
    """Standard uncertainty of `value`: fit, model, forecast misfit, display step."""
    dof: float
    p_known: float
    p_slope: float
    check: float
    """Error of the forecast for the last 2 s, in its standard deviations (nan: none made)."""
    misfit: float
    """Factor on all standard deviations from the last forecasts (1 or more)."""
    left: float
    """Lag still to come [A]."""
    slope: float
    """Thermal drift over the horizon [A]."""
    u_slope: float
    tau_s: float
    lag_spread: float
    """Standard deviation of its logarithm."""
    two_lags: float
    """Probability that there is a second lag."""
    noise: float
    in_a_row: int = 0
    ready: bool = False

    def evidence(self) -> dict[str, float]:
        """What the prediction rests on, for the journal; what is not known is left out."""
        told = {
            "p_known": self.p_known,
            "p_slope": self.p_slope,
            "check": self.check,
            "misfit": self.misfit,
            "lag_s": self.tau_s,
            "lag_left_amps": self.left,
            "thermal_drift_amps": self.slope,
            "u_thermal_drift_amps": self.u_slope,
            "two_lags": self.two_lags,
        }
        return {name: value for name, value in told.items() if math.isfinite(value)}


def _normal_cdf(x: Floats) -> Floats:
    """Normal distribution function, absolute error below 3e-4 (Page, Appl. Stat. 26, 1977)."""
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
        self._forecasts: dict[int, tuple[float, float]] = {}
        """By the number of blocks seen when each was made."""
        self._checks: dict[int, float] = {}
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
        if seen > OFTEN_BLOCKS and seen % 2 and self._latest is not None:
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
        size = max(abs(reference), 1e-6)
        mean_share, sd_share = THERMAL_MEAN_SHARE, self.form.slope_sd
        priors = self._priors(rows, size, sd_share * size, noise, floor, dithered)
        drift = mean_share * size
        if drift:
            rows.values[:] -= drift * rows.common[:, 1]
        mixture = fit(rows, priors)
        self._noise = mixture.noise
        return self._judge(t_s, mixture, reference, drift, tolerance, dithered)

    # ---- rows and priors -------------------------------------------------------------------

    def _floor(self, first: int) -> tuple[float, float]:
        """Least standard deviation of a block, and how far the display step averages out."""
        sds = sorted(s for s, c in zip(self._sds[-80:], self._counts[-80:], strict=True) if c > 1)
        filled = [c for c in self._counts[first:] if c]
        per_block = sum(filled) / len(filled)
        within = sds[len(sds) // 2] if sds else 0.0
        if not sds and self._noise is not None:
            within = self._noise
        left = step_left(within, self._resolution)
        step2 = self._resolution**2 / 12.0 * (left + 1.0 / per_block)
        return math.sqrt(step2 + (within**2 / per_block if sds else 0.0)) + 1e-9, left

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
        slope_sd: float,
        noise: float,
        floor: float,
        dithered: float,
    ) -> Priors:
        jump = max(abs(float(rows.values[0])), 3 * noise, 0.02 * size)
        common = [2 * size, slope_sd]
        if self._with_speed:
            common.append(self._pull_sd)
        phi = PHI_PRIOR
        if dithered > 0.3:
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

    def _judge(
        self,
        t_s: float,
        mixture: Mixture,
        reference: float,
        drift: float,
        tolerance: float,
        dithered: float,
    ) -> Prediction:
        w = mixture.weight
        check = self._check(mixture, reference, drift)
        misfit = self._misfit()
        final = float(w @ mixture.final)
        left = float(w @ mixture.left)
        step2 = self._resolution**2 / 12.0 * dithered
        share = np.where(mixture.two, TWO_LAG_SHARE, self.form.left_share)
        sd = np.hypot(misfit * mixture.final_sd, share * mixture.left)
        u = math.sqrt(float(w @ (sd**2 + (mixture.final - final) ** 2)) + step2)
        p_known = _within(tolerance, mixture.final - final, sd, w, mixture.dof)
        limit = self.form.slope_tolerances * tolerance * SLOPE_OVER_S / self._horizon_s
        slopes = mixture.slope + drift
        slope = float(w @ slopes)
        p_slope = _within(limit, slopes, misfit * mixture.slope_sd, w, mixture.dof)
        u_slope = math.sqrt(float(w @ (mixture.slope_sd**2 + (slopes - slope) ** 2)))
        self._now = reference + final + left
        log_lag = float(w @ np.log(mixture.tau_s))
        good = (
            p_known >= self.form.known
            and p_slope >= self.form.slope_within
            and abs(check) <= self.form.check
            and len(self._means) * BLOCK_S >= self.form.earliest_s
        )
        since = len(self._means) - self._looked_at
        self._in_a_row = self._in_a_row + since if good else 0
        return Prediction(
            t_s=t_s,
            value=reference + final,
            u=u,
            dof=mixture.dof,
            p_known=p_known,
            p_slope=p_slope,
            check=check,
            misfit=misfit,
            left=left,
            slope=slope,
            u_slope=u_slope,
            tau_s=math.exp(log_lag),
            lag_spread=math.sqrt(float(w @ (np.log(mixture.tau_s) - log_lag) ** 2)),
            two_lags=float(w @ mixture.two),
            noise=mixture.noise,
            in_a_row=self._in_a_row,
            ready=self._in_a_row >= self.form.blocks,
        )

    def _check(self, mixture: Mixture, reference: float, drift: float) -> float:
        """Error of the forecast made four blocks ago; makes the next one."""
        seen = len(self._means)
        made = self._forecasts.pop(seen - AHEAD, None)
        recent = [m for m, c in zip(self._means[-AHEAD:], self._counts[-AHEAD:], strict=True) if c]
        check = math.nan
        if made is not None and recent:
            check = (sum(recent) / len(recent) - made[0]) / made[1]
        w = mixture.weight
        mean = float(w @ mixture.ahead)
        sd = math.sqrt(float(w @ (mixture.ahead_sd**2 + (mixture.ahead - mean) ** 2)))
        at = reference + mean + drift * (AHEAD * BLOCK_S / 2 / SLOPE_OVER_S)
        self._forecasts[seen] = at, max(sd, 1e-9)
        self._checks[seen] = check
        self._checks.pop(seen - 2 * AHEAD, None)
        self._forecasts.pop(seen - 2 * AHEAD, None)
        return check

    def _misfit(self) -> float:
        """Root mean square of the checks now, 1 s and 2 s ago; never below 1."""
        seen = len(self._means)
        made = [self._checks.get(seen - back, math.nan) for back in (0, 2, 4)]
        checks = [c for c in made if not math.isnan(c)]
        return math.sqrt(max(1.0, sum(c * c for c in checks) / 3.0))
