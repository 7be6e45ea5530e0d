"""The chance that a unit meets its limits, given what was read and how far it can be trusted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist
from typing import TYPE_CHECKING

from acquire.judge.budget import Budget, Part

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

TRIALS = 100_000
"""Monte Carlo trials; with a dominating rectangle the chance is good to about 0.0001."""
SEED = 20_081_101
MANY_DOF = 200.0
"""Above this Student's t and the normal distribution agree to 0.001."""
NORMAL = NormalDist()
_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71)
_LATTICE = 4096
_SHIFTS = 8
_FARTHEST = 8.2
"""Normal scores are held inside ±8.2, where the distribution is within 1e-16 of 0 and 1."""


def quantile(probability: float) -> float:
    """Quantile z of the standard normal distribution, in standard deviations."""
    return NORMAL.inv_cdf(probability)


def p_conform(*, margin: float, u: float, dof: float = math.inf) -> float:
    """Chance that the true value is at or above the limit, `margin` = measured - limit.

    Normal (JCGM 106:2012, 7.3), or Student's t for few degrees of freedom (JCGM 100:2008, G.3).
    Without any doubt the chance is 1 or 0.
    """
    if u == 0.0:
        return 1.0 if margin >= 0.0 else 0.0
    if dof > MANY_DOF:
        return NORMAL.cdf(margin / u)
    from scipy.special import stdtr

    return float(stdtr(dof, margin / u))


def p_conform_of(margin: float, budget: Budget) -> float:
    """Chance of conformity from a whole budget.

    Monte Carlo (JCGM 101:2008) where one rectangular part makes up more than 70 % of the doubt:
    such an error has an end, and the normal distribution would give it tails.
    """
    heavy = budget.dominating_rectangle
    if heavy is None:
        return p_conform(margin=margin, u=budget.u, dof=budget.dof)
    return monte_carlo(margin, budget.parts, rectangle=heavy)


def monte_carlo(
    margin: float,
    parts: Sequence[Part],
    *,
    rectangle: Part | None = None,
    trials: int = TRIALS,
) -> float:
    """Share of trials in which the error leaves the true value at or above the limit.

    Propagation of distributions, JCGM 101:2008, clause 7; the same seed always. The part named
    `rectangle` is not drawn: in each trial the chance over its width is taken whole, which is the
    same on average and scatters far less.
    """
    import numpy as np

    generator = np.random.Generator(np.random.PCG64(SEED))
    total = np.full(trials, float(margin))
    for part in parts:
        if part is not rectangle and part.u_amps > 0.0:
            total += part.u_amps * _draws(part, generator, trials)
    if rectangle is None:
        return float(np.count_nonzero(total >= 0.0)) / trials
    half_width = math.sqrt(3.0) * rectangle.u_amps
    return float(np.clip((total + half_width) / (2.0 * half_width), 0.0, 1.0).mean())


def joint_chance(chances: Sequence[float], correlations: Sequence[Sequence[float]]) -> float:
    """Chance that every speed meets its limit, from the chance at each and their correlations.

    Multivariate normal over the normal scores of the single chances; Genz's separation of
    variables (J. Comput. Graph. Stat. 1, 1992, 141-149) on a lattice with a fixed seed.
    """
    if len(chances) < 2:
        return chances[0] if chances else 1.0
    if min(chances) <= 0.0:
        return 0.0
    if _independent(correlations):
        return math.prod(chances)
    return min(_genz(chances, correlations), *chances)


def _independent(correlations: Sequence[Sequence[float]]) -> bool:
    lines = enumerate(correlations)
    return all(value == 0.0 for row, line in lines for value in line[:row])


def _draws(part: Part, source: np.random.Generator, trials: int) -> NDArray[np.float64]:
    """Draw errors with mean 0 and scale 1 in the shape of the part's distribution."""
    import numpy as np

    if part.distribution == "normal":
        if math.isfinite(part.dof):
            return source.standard_t(part.dof, trials)
        return source.standard_normal(trials)
    share = source.random(trials)
    if part.distribution == "rectangular":
        return math.sqrt(3.0) * (2.0 * share - 1.0)
    if part.distribution == "u-shaped":
        return math.sqrt(2.0) * np.cos(math.pi * share)
    return math.sqrt(6.0) * (share + source.random(trials) - 1.0)


def _genz(chances: Sequence[float], correlations: Sequence[Sequence[float]]) -> float:
    import numpy as np
    from scipy.special import ndtr, ndtri

    scores = np.clip(ndtri(np.asarray(chances, dtype=float)), -_FARTHEST, _FARTHEST)
    order = np.argsort(scores)
    scores = scores[order]
    matrix = np.asarray(correlations, dtype=float)[np.ix_(order, order)]
    root = np.linalg.cholesky((matrix + 1e-9 * np.eye(len(scores))) / (1.0 + 1e-9))
    places = _lattice(len(scores) - 1)
    share = np.full(places.shape[0], ndtr(scores[0] / root[0, 0]))
    product = share.copy()
    drawn = np.zeros((places.shape[0], len(scores)))
    for row in range(1, len(scores)):
        inside = np.clip(places[:, row - 1] * share, 1e-300, 1.0 - 1e-16)
        drawn[:, row - 1] = ndtri(inside)
        share = ndtr((scores[row] - drawn[:, :row] @ root[row, :row]) / root[row, row])
        product *= share
    return float(product.mean())


def _lattice(dimensions: int) -> NDArray[np.float64]:
    """Points of a shifted Richtmyer lattice, folded so that the integrand is periodic."""
    import numpy as np

    roots = np.sqrt(np.asarray(_primes(dimensions), dtype=float))
    shifts = np.random.Generator(np.random.PCG64(SEED)).random((_SHIFTS, 1, dimensions))
    steps = np.arange(1, _LATTICE + 1, dtype=float).reshape(1, -1, 1)
    places = (steps * roots + shifts) % 1.0
    folded: NDArray[np.float64] = np.abs(2.0 * places - 1.0).reshape(-1, dimensions)
    return folded


def _primes(count: int) -> list[int]:
    primes = list(_PRIMES[:count])
    candidate = _PRIMES[-1]
    while len(primes) < count:
        candidate += 2
        if all(candidate % prime for prime in primes):
            primes.append(candidate)
    return primes
