"""What an acceptance rule does over many units: good ones turned away, bad ones let through.

Global risks of JCGM 106:2012, 9.5. They need a belief about the units that cross the bench, so
they are a shop-floor figure: they help to choose meter and rule, and say nothing of one unit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from acquire.judge.probability import NORMAL


class Prior(Protocol):
    """What the units give, before one is measured."""

    def density(self, amps: float) -> float:
        """Probability density [1/A]."""
        ...

    def span(self) -> tuple[float, float]:
        """Currents between which practically all units lie."""
        ...


@dataclass(frozen=True, slots=True)
class NormalPrior:
    """Units spread normally about a mean [A]."""

    mean: float
    sd: float

    def density(self, amps: float) -> float:
        """Probability density [1/A]."""
        score = (amps - self.mean) / self.sd
        return math.exp(-0.5 * score * score) / (self.sd * math.sqrt(2.0 * math.pi))

    def span(self) -> tuple[float, float]:
        """Nine standard deviations to either side."""
        return self.mean - 9.0 * self.sd, self.mean + 9.0 * self.sd


@dataclass(frozen=True, slots=True)
class GlobalRisk:
    """Shares of all units, 0 to 1."""

    let_through: float
    """Bad and accepted (the consumer's risk)."""
    turned_away: float
    """Good and not accepted (the producer's risk)."""
    bad: float
    """Bad ones among all units."""

    @property
    def of_good_turned_away(self) -> float:
        """Of the good units, the share not accepted."""
        return self.turned_away / (1.0 - self.bad) if self.bad < 1.0 else 0.0

    @property
    def of_bad_let_through(self) -> float:
        """Of the bad units, the share accepted."""
        return self.let_through / self.bad if self.bad > 0.0 else 0.0

    def words(self) -> str:
        """Say it for the shop floor."""
        return (
            f"Of 1000 good units {1000.0 * self.of_good_turned_away:.0f} are not passed; "
            f"of 1000 bad ones {1000.0 * self.of_bad_let_through:.0f} slip through."
        )


def global_risk(*, prior: Prior, limit: float, u: float, guard: float = 0.0) -> GlobalRisk:
    """Risks of accepting what reads at least `limit + guard`, all in amperes.

    Raises:
        ValueError: `u` is not above 0.
    """
    if not u > 0.0:
        raise ValueError(f"the standard uncertainty must be above 0 A: {u}")
    low, high = prior.span()
    middle = min(max(limit, low), high)

    def accepted(amps: float) -> float:
        return NORMAL.cdf((amps - limit - guard) / u)

    edge = limit + guard
    return GlobalRisk(
        let_through=_integral(lambda a: prior.density(a) * accepted(a), low, middle, edge),
        turned_away=_integral(lambda a: prior.density(a) * (1 - accepted(a)), middle, high, edge),
        bad=_integral(prior.density, low, middle, edge),
    )


class _Function(Protocol):
    def __call__(self, amps: float, /) -> float: ...


def _integral(function: _Function, low: float, high: float, edge: float) -> float:
    if high <= low:
        return 0.0
    from scipy.integrate import quad

    breaks = [edge] if low < edge < high else None
    return float(quad(function, low, high, points=breaks, epsabs=1e-12, limit=400)[0])
