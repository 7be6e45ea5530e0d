"""A bank of lag models, fitted all at once to the blocks of one step.

Each cell of the bank assumes one lag time (or two, the slower one a fixed multiple), and one
correlation of the noise; what is left is linear: final value, thermal slope, the pull of the speed,
the size of each lag. So every cell has a closed solution (ridge regression, the prior spread of
each coefficient as its ridge: Hoerl and Kennard, Technometrics 12, 1970), and cells are weighted
by how likely they make the readings (marginal likelihood; Student's t in each cell: O'Hagan and
Forster, Bayesian Inference, 2004, chapter 11). One matrix of products serves all cells.

Needs numpy; import it only where a point is predicted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from acquire.settle.blocks import BLOCK_S
from acquire.settle.lore import TWO_LAGS_PRIOR

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

LAGS = 24
SHORTEST_S, LONGEST_S = 0.4, 40.0
RATIO = (LONGEST_S / SHORTEST_S) ** (1 / (LAGS - 1))
SHAPES = ((0.0, 0), (0.2, 6), (0.2, 10))
"""Usual share of the change that comes with a second lag, RATIO to that power slower (3, 7)."""
COLUMNS = LAGS + 10
TAUS = SHORTEST_S * RATIO ** np.arange(COLUMNS)
"""Lag times of the bank [s]; those beyond LAGS serve as second lags only."""
PHIS = np.array([0.0, 0.4, 0.7, 0.9])
"""Correlation of neighbouring half-second blocks."""
PHI_PRIOR = np.array([0.45, 0.30, 0.15, 0.10])
MEDIAN_LAG_S, LAG_SPREAD = 2.5, 1.2
"""Prior of the lag: log-normal."""
KNOWN_SPREAD = 0.25
"""Log spread of one machine's lag from step to step."""
STRANGE = 0.2
"""How likely the next step's lag has nothing to do with the last one's."""
WINDOW_BLOCKS = 96
"""The bank sees the last 48 s."""
AHEAD = 4
"""The check predicts the mean of the next four blocks (2 s)."""
PRIOR_DOF = 2.0
SLOPE_OVER_S = 10.0
"""The thermal slope is told as the drift over so many seconds."""
NO_WEIGHT = 1e-6
"""Cells below this weight are left out."""

_TABLE = np.exp(-np.arange(WINDOW_BLOCKS + AHEAD + 1)[:, None] * BLOCK_S / TAUS[None, :])
_NOW = np.exp(BLOCK_S / 2 / TAUS)
_EVERY = np.arange(COLUMNS)
_FAST = np.tile(np.arange(LAGS), len(SHAPES))
"""For each cell the column of its (first) lag, of its second, and their usual shares."""
_SLOW = _FAST + np.repeat([by for _, by in SHAPES], LAGS)
_SLOW_SHARE = np.repeat([share for share, _ in SHAPES], LAGS)
_FAST_SHARE = 1.0 - _SLOW_SHARE
_TWO = _SLOW_SHARE > 0.0
_CELL_PRIOR = -0.5 * ((np.log(TAUS[_FAST]) - math.log(MEDIAN_LAG_S)) / LAG_SPREAD) ** 2


@dataclass(frozen=True, slots=True)
class Rows:
    """The blocks of a window, gaps left out; values from a reference near the present one."""

    places: Whole
    """Place of each row in the window, 0 the first block."""
    values: Floats
    common: Floats
    """Columns common to all cells: 1, time from now over the horizon, speed deviation."""
    weights: Floats
    length: int
    """Blocks in the window, gaps included."""


@dataclass(frozen=True, slots=True)
class Priors:
    """Prior standard deviations and noise, in the unit of measure of the values."""

    common: Floats
    """Of the common coefficients."""
    lag: float
    """Of the size of the lag at the window's start."""
    second: float
    """Of how far the second lag is from its usual share."""
    noise: float
    """Standard deviation of a block as the look before had it: scales the ridges."""
    floor: float
    """Smallest standard deviation of a block that display and scatter let one believe."""
    phi: Floats
    """Prior weights of PHIS."""
    two_lags: float = TWO_LAGS_PRIOR
    """How likely a second lag is."""
    lag_s: float | None = None
    """The lag this machine had at the steps before, where it is known [s]."""


@dataclass(frozen=True, slots=True)
class Mixture:
    """Every cell's answer, cells of no weight left out (1-d arrays over cells)."""

    weight: Floats
    tau_s: Floats
    two: npt.NDArray[np.bool_]
    """True for cells with a second lag."""
    final: Floats
    """Value once the lag is over, at the thermal state of now."""
    final_sd: Floats
    slope: Floats
    """Thermal drift over the horizon."""
    slope_sd: Floats
    left: Floats
    """Lag still to come."""
    ahead: Floats
    """Mean of the next AHEAD blocks."""
    ahead_sd: Floats
    noise: float
    dof: float


def _products(rows: Rows) -> tuple[Floats, int]:
    """Whitened products of all columns for each of PHIS, and how many rows have no neighbour."""
    n, wide = rows.values.size, rows.common.shape[1]
    table = np.empty((n, wide + COLUMNS + 1))
    table[:, :wide] = rows.common
    table[:, wide:-1] = _TABLE[rows.places]
    table[:, -1] = rows.values
    table *= rows.weights[:, None]
    linked = np.diff(rows.places) == 1
    if linked.all():
        here, before, lone = table[1:], table[:-1], table[:1]
    else:
        here, before = table[1:][linked], table[:-1][linked]
        lone = table[np.concatenate([[True], ~linked])]
    cross = here.T @ before
    phi = PHIS[:, None, None]
    products = here.T @ here - phi * (cross + cross.T)
    products += phi * phi * (before.T @ before) + (1 - phi * phi) * (lone.T @ lone)
    return products, lone.shape[0]


@dataclass(slots=True)
class _Reduced:
    """Products with the common columns taken out."""

    inverse: Floats
    """(phi, common, common)"""
    pull: Floats
    """(phi, common, lag columns and value)"""
    own: Floats
    """(phi, cell): of the lag curve with itself"""
    both: Floats
    """of the lag curve with its second lag"""
    second: Floats
    """of the second lag with itself"""
    with_value: Floats
    second_value: Floats
    value: Floats


def _reduce(products: Floats, wide: int, ridge: Floats) -> _Reduced:
    common = products[:, :wide, :wide] + np.diag(ridge)
    inverse = np.asarray(np.linalg.inv(common), dtype=np.float64)
    rest = products[:, :wide, wide:]
    pull = inverse @ rest
    lags = products[:, wide:-1, wide:-1]
    own = lags[:, _EVERY, _EVERY] - (rest * pull)[:, :, :-1].sum(1)
    pair = lags[:, _FAST, _SLOW] - (rest[:, :, _FAST] * pull[:, :, _SLOW]).sum(1)
    with_value = products[:, wide:-1, -1] - (rest[:, :, :-1] * pull[:, :, -1:]).sum(1)
    value = products[:, -1, -1] - (rest[:, :, -1] * pull[:, :, -1]).sum(1)
    fast, slow = own[:, _FAST], own[:, _SLOW]
    curve = _FAST_SHARE**2 * fast + 2.0 * _FAST_SHARE * _SLOW_SHARE * pair + _SLOW_SHARE**2 * slow
    both = _FAST_SHARE * pair + _SLOW_SHARE * slow
    return _Reduced(inverse, pull, curve, both, slow, *_joined(with_value), value)


def _joined(columns: Floats) -> tuple[Floats, Floats]:
    """Lag columns (..., COLUMNS) as lag curves and second lags (..., cell)."""
    slow = columns[..., _SLOW]
    return _FAST_SHARE * columns[..., _FAST] + _SLOW_SHARE * slow, slow


class _Cells:
    """Mean and variance of linear combinations, in every cell."""

    def __init__(self, reduced: _Reduced, ridge: float, ridge_two: float) -> None:
        self.reduced = reduced
        first = reduced.own + ridge
        second = np.where(_TWO, reduced.second + ridge_two, 1.0)
        both = np.where(_TWO, reduced.both, 0.0)
        det = first * second - both * both
        self.inv = second / det
        self.inv_both = -both / det
        self.inv_two = np.where(_TWO, first / det, 0.0)
        v, v2 = reduced.with_value, reduced.second_value
        self.size = self.inv * v + self.inv_both * v2
        self.size_two = self.inv_both * v + self.inv_two * v2
        self.log_det = np.log(det) - np.where(_TWO, math.log(ridge * ridge_two), math.log(ridge))
        self.squares = reduced.value[:, None] - v * self.size - v2 * self.size_two

    def combine(self, common: Floats, lags: Floats) -> tuple[Floats, Floats]:
        """Mean and variance (over the noise variance) of common.x + lags.y.

        `common` (question, common column), `lags` (question, lag column); answers
        (question, phi, cell).
        """
        reduced = self.reduced
        through = np.matmul(common[:, None, None, :], reduced.pull[None])[:, :, 0]
        one, two = _joined(lags[:, None, :] - through[:, :, :-1])
        base = np.einsum("qc,pcd,qd->qp", common, reduced.inverse, common)
        mean = through[:, :, -1:] + one * self.size + two * self.size_two
        variance = base[:, :, None] + one * one * self.inv
        variance += two * (2.0 * one * self.inv_both + two * self.inv_two)
        return mean, variance


def fit(rows: Rows, priors: Priors) -> Mixture:
    """Fit every cell to `rows`."""
    n, wide = rows.values.size, rows.common.shape[1]
    products, lone = _products(rows)
    noise2, floor2 = priors.noise**2, priors.floor**2
    cells = _Cells(
        _reduce(products, wide, noise2 / priors.common**2),
        noise2 / priors.lag**2,
        noise2 / priors.second**2,
    )
    dof = max(n - wide - 1 + PRIOR_DOF, 1.0)
    squares = np.maximum(cells.squares, 0.0) + PRIOR_DOF * floor2
    unlinked = (1 - PHIS**2)[:, None]
    variance = np.maximum(squares / dof, floor2 * unlinked)
    of_phi = np.log(priors.phi) + 0.5 * np.log(np.linalg.det(cells.reduced.inverse))
    of_phi += 0.5 * lone * np.log(1 - PHIS**2)
    of_shape = np.where(_TWO, priors.two_lags / (len(SHAPES) - 1), 1.0 - priors.two_lags)
    log_weight = _lag_prior(priors.lag_s) + np.log(of_shape) + of_phi[:, None]
    log_weight -= 0.5 * cells.log_det + 0.5 * (n + PRIOR_DOF) * np.log(squares)
    weight = np.exp(log_weight - log_weight.max())
    return _mixture(cells, rows.length, weight / weight.sum(), variance, dof)


def _lag_prior(known_s: float | None) -> Floats:
    """Log prior of each cell's first lag: near the known one, most likely."""
    if known_s is None:
        return np.asarray(_CELL_PRIOR, dtype=np.float64)
    off = np.log(TAUS[_FAST] / known_s) / KNOWN_SPREAD
    near = np.exp(-0.5 * off * off) / KNOWN_SPREAD
    far = np.exp(_CELL_PRIOR) / LAG_SPREAD
    return np.asarray(np.log((1.0 - STRANGE) * near + STRANGE * far))


def _mixture(cells: _Cells, length: int, weight: Floats, variance: Floats, dof: float) -> Mixture:
    wide = cells.reduced.inverse.shape[1]
    common = np.zeros((3, wide))
    common[0, 0] = common[1, 1] = common[2, 0] = 1.0
    common[2, 1] = AHEAD * BLOCK_S / 2 / SLOPE_OVER_S
    lags = np.zeros((3, COLUMNS))
    lags[2] = _TABLE[length : length + AHEAD].mean(0)
    mean, over = cells.combine(common, lags)
    over[2] += _AHEAD_NOISE[:, None]
    now, now_two = _joined(_TABLE[length] * _NOW)
    left = now * cells.size + now_two * cells.size_two
    keep = weight > NO_WEIGHT
    w, v = weight[keep], variance[keep]
    sd = np.sqrt(over[:, keep] * v)
    mean = mean[:, keep]
    cell = np.nonzero(keep)[1]
    return Mixture(
        weight=w / w.sum(),
        tau_s=TAUS[_FAST[cell]],
        two=_TWO[cell],
        final=mean[0],
        final_sd=sd[0],
        slope=mean[1],
        slope_sd=sd[1],
        left=left[keep],
        ahead=mean[2],
        ahead_sd=sd[2],
        noise=math.sqrt(float(w @ v / w.sum())),
        dof=dof,
    )


def _ahead_noise() -> Floats:
    """Variance of the mean of AHEAD blocks of AR(1) noise, over that of the shocks."""
    lags = np.arange(1, AHEAD)
    linked = (2 * (1 - lags / AHEAD)[None, :] * PHIS[:, None] ** lags[None, :]).sum(1)
    return np.asarray((1 + linked) / AHEAD / (1 - PHIS**2))


_AHEAD_NOISE = _ahead_noise()
