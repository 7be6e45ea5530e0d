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

Floats = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

LAGS = 24
SHORTEST_S, LONGEST_S = 0.4, 40.0
RATIO = (LONGEST_S / SHORTEST_S) ** (1 / (LAGS - 1))
SHAPES = ((0.0, 0), *((share, by) for by in (6, 10) for share in (0.15, 0.30, 0.45)))
"""Share of the change that comes with a second lag, RATIO to that power slower (3 or 7 times)."""
SHAPE_PRIOR = np.array([0.6] + [0.4 / 6] * 6)
COLUMNS = LAGS + 10
TAUS = SHORTEST_S * RATIO ** np.arange(COLUMNS)
"""Lag times of the bank [s]; those beyond LAGS serve as second lags only."""
PHIS = np.array([0.0, 0.4, 0.7, 0.9])
"""Correlation of neighbouring half-second blocks."""
PHI_PRIOR = np.array([0.45, 0.30, 0.15, 0.10])
MEDIAN_LAG_S, LAG_SPREAD = 2.5, 1.2
"""Prior of the lag: log-normal."""
WINDOW_BLOCKS = 96
"""The bank sees the last 48 s."""
AHEAD = 4
"""The check predicts the mean of the next four blocks (2 s)."""
PRIOR_DOF = 2.0
NO_WEIGHT = 1e-6
"""Cells below this weight are left out."""

_TABLE = np.exp(-np.arange(WINDOW_BLOCKS + AHEAD + 1)[:, None] * BLOCK_S / TAUS[None, :])
_NOW = np.exp(BLOCK_S / 2 / TAUS)
_TAU_PRIOR = -0.5 * ((np.log(TAUS[:LAGS]) - math.log(MEDIAN_LAG_S)) / LAG_SPREAD) ** 2


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
    noise: float
    """Standard deviation of a block as the look before had it: scales the ridges."""
    floor: float
    """Smallest standard deviation of a block that display and scatter let one believe."""
    phi: Floats
    """Prior weights of PHIS."""


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
    """(phi, shape, lag): of the lag curve with itself"""
    with_value: Floats
    value: Floats


def _reduce(products: Floats, wide: int, ridge: Floats) -> _Reduced:
    common = products[:, :wide, :wide] + np.diag(ridge)
    inverse = np.linalg.inv(common)
    rest = products[:, :wide, wide:]
    pull = inverse @ rest
    lags = np.arange(COLUMNS)
    own = products[:, wide + lags, wide + lags] - (rest * pull)[:, :, :-1].sum(1)
    with_value = products[:, wide:-1, -1] - (rest[:, :, :-1] * pull[:, :, -1:]).sum(1)
    value = products[:, -1, -1] - (rest[:, :, -1] * pull[:, :, -1]).sum(1)
    first = lags[:LAGS]
    shaped = np.empty((PHIS.size, len(SHAPES), LAGS))
    for by in sorted({by for _, by in SHAPES}):
        pair = products[:, wide + first, wide + first + by]
        pair = pair - (rest[:, :, :LAGS] * pull[:, :, by : LAGS + by]).sum(1)
        for place, (share, its_by) in enumerate(SHAPES):
            if its_by == by:
                shaped[:, place] = (1 - share) ** 2 * own[:, :LAGS] + share**2 * own[
                    :, by : LAGS + by
                ]
                shaped[:, place] += 2 * share * (1 - share) * pair
    return _Reduced(inverse, pull, shaped, _shaped(with_value), value)


def _shaped(columns: Floats) -> Floats:
    """Lag columns (..., COLUMNS) joined to lag curves (..., shape, LAGS)."""
    parts = [
        (1 - share) * columns[..., :LAGS] + share * columns[..., by : LAGS + by]
        for share, by in SHAPES
    ]
    return np.stack(parts, axis=-2)


class _Cells:
    """Mean and variance of linear combinations, in every cell."""

    def __init__(self, reduced: _Reduced, ridge: float) -> None:
        self.reduced = reduced
        self.inverse = 1.0 / (reduced.own + ridge)
        self.size = reduced.with_value * self.inverse
        self.log_det = np.log((reduced.own + ridge) / ridge)
        self.squares = reduced.value[:, None, None] - reduced.with_value * self.size

    def combine(self, common: Floats, lags: Floats | None) -> tuple[Floats, Floats]:
        """Mean and variance (over the noise variance) of common.x + lags.y: (phi, shape, lag)."""
        reduced = self.reduced
        through = np.einsum("c,pcr->pr", common, reduced.pull)
        rest = -through[:, :-1] if lags is None else lags[None, :] - through[:, :-1]
        curve = _shaped(rest)
        base = np.einsum("c,pcd,d->p", common, reduced.inverse, common)
        mean = through[:, -1, None, None] + curve * self.size
        return mean, base[:, None, None] + curve * curve * self.inverse


def fit(rows: Rows, priors: Priors) -> Mixture:
    """Fit every cell to `rows`."""
    n, wide = rows.values.size, rows.common.shape[1]
    products, lone = _products(rows)
    noise2, floor2 = priors.noise**2, priors.floor**2
    cells = _Cells(_reduce(products, wide, noise2 / priors.common**2), noise2 / priors.lag**2)
    dof = max(n - wide - 1 + PRIOR_DOF, 1.0)
    squares = np.maximum(cells.squares, 0.0) + PRIOR_DOF * floor2
    unlinked = (1 - PHIS**2)[:, None, None]
    variance = np.maximum(squares / dof, floor2 * unlinked)
    of_phi = np.log(priors.phi) + 0.5 * np.log(np.linalg.det(cells.reduced.inverse))
    of_phi += 0.5 * lone * np.log(1 - PHIS**2)
    log_weight = _TAU_PRIOR + np.log(SHAPE_PRIOR)[:, None] + of_phi[:, None, None]
    log_weight -= 0.5 * cells.log_det + 0.5 * (n + PRIOR_DOF) * np.log(squares)
    weight = np.exp(log_weight - log_weight.max())
    return _mixture(cells, rows.length, weight / weight.sum(), variance, dof)


def _mixture(cells: _Cells, length: int, weight: Floats, variance: Floats, dof: float) -> Mixture:
    unit = np.eye(cells.reduced.inverse.shape[1])
    ahead = unit[0] + unit[1] * (AHEAD * BLOCK_S / 2 / 10.0)
    final, final_var = cells.combine(unit[0], None)
    slope, slope_var = cells.combine(unit[1], None)
    soon, soon_var = cells.combine(ahead, _TABLE[length : length + AHEAD].mean(0))
    soon_var = soon_var + _AHEAD_NOISE[:, None, None]
    left = _shaped(_TABLE[length] * _NOW) * cells.size
    keep = weight > NO_WEIGHT
    _phi, shape, lag = np.nonzero(keep)
    w, v = weight[keep], variance[keep]
    return Mixture(
        weight=w / w.sum(),
        tau_s=TAUS[lag],
        two=shape > 0,
        final=final[keep],
        final_sd=np.sqrt(final_var[keep] * v),
        slope=slope[keep],
        slope_sd=np.sqrt(slope_var[keep] * v),
        left=left[keep],
        ahead=soon[keep],
        ahead_sd=np.sqrt(soon_var[keep] * v),
        noise=math.sqrt(float(w @ v / w.sum())),
        dof=dof,
    )


def _ahead_noise() -> Floats:
    """Variance of the mean of AHEAD blocks of AR(1) noise, over that of the shocks."""
    lags = np.arange(1, AHEAD)
    linked = (2 * (1 - lags / AHEAD)[None, :] * PHIS[:, None] ** lags[None, :]).sum(1)
    return np.asarray((1 + linked) / AHEAD / (1 - PHIS**2))


_AHEAD_NOISE = _ahead_noise()
