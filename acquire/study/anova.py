"""One-way analysis of variance with random groups: repeatability and reproducibility.

Formulae: ISO 5725-2:1994, 7.4 (basic method, one-way random model, groups of any size). With p
groups of n_i results, N in all, group means m_i and general mean m:

    s_r² = Σ Σ (y_ij - m_i)² / (N - p)              repeatability variance
    s_d² = Σ n_i (m_i - m)² / (p - 1)               mean square between groups
    n̄    = (N - Σ n_i² / N) / (p - 1)
    s_L² = (s_d² - s_r²) / n̄, zero where negative   between-group variance
    s_R² = s_L² + s_r²                              reproducibility variance

F = s_d² / s_r² with p - 1 and N - p degrees of freedom. Those of s_R² are effective ones after
Satterthwaite (Biometrics Bulletin 2, 1946).

Sums are exact (fractions of whole numbers), so nothing is lost beyond what the results themselves
are rounded to, however many leading digits they share.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction

Result = float | Fraction


@dataclass(frozen=True, slots=True)
class Anova:
    """The analysis of one quantity, in its own unit; what the groups do not reveal is None."""

    groups: int
    results: int
    mean: float
    between_square: float | None
    """Mean square between groups (s_d²); None with one group."""
    within_square: float | None
    """Mean square within groups (s_r²); None where every group has one result."""
    typical_size: float | None
    """n̄, the size of a group that counts; None with one group."""

    @property
    def dof_between(self) -> int:
        """Degrees of freedom between groups."""
        return self.groups - 1

    @property
    def dof_within(self) -> int:
        """Degrees of freedom within groups."""
        return self.results - self.groups

    @property
    def repeatability(self) -> float | None:
        """s_r: standard deviation of results of one group."""
        return None if self.within_square is None else math.sqrt(self.within_square)

    @property
    def between(self) -> float | None:
        """s_L: standard deviation of the groups' own levels."""
        if self.between_square is None or self.within_square is None or self.typical_size is None:
            return None
        excess = self.between_square - self.within_square
        return math.sqrt(max(excess, 0.0) / self.typical_size)

    @property
    def reproducibility(self) -> float | None:
        """s_R: standard deviation of a result of any group."""
        if self.repeatability is None or self.between is None:
            return None
        return math.hypot(self.repeatability, self.between)

    @property
    def dof_reproducibility(self) -> float | None:
        """Effective degrees of freedom of s_R; those of s_r where s_L is zero."""
        between, within, size = self.between_square, self.within_square, self.typical_size
        if between is None or within is None or size is None:
            return None
        if between <= within:
            return float(self.dof_within)
        shares = (between / size, within * (1.0 - 1.0 / size))
        spread = shares[0] ** 2 / self.dof_between + shares[1] ** 2 / self.dof_within
        return sum(shares) ** 2 / spread

    @property
    def f(self) -> float | None:
        """The ratio of the mean squares; None where one is missing or nothing scatters within."""
        if self.between_square is None or not self.within_square:
            return None
        return self.between_square / self.within_square

    @property
    def p(self) -> float | None:
        """Chance of such an F or a larger one when all groups have one level."""
        if self.f is None:
            return None
        from scipy.special import fdtrc

        return float(fdtrc(self.dof_between, self.dof_within, self.f))


def anova(groups: Sequence[Collection[Result]]) -> Anova:
    """Analyse results by groups; empty groups do not count.

    Raises:
        ValueError: Without a result, or with one that is not finite.
    """
    exact = [[Fraction(result) for result in group] for group in groups if group]
    if not exact:
        raise ValueError("there is no result to analyse")
    sizes = [len(group) for group in exact]
    total = sum(sizes)
    means = [sum(group, Fraction()) / len(group) for group in exact]
    mean = sum((n * m for n, m in zip(sizes, means, strict=True)), Fraction()) / total
    between = sum((n * (m - mean) ** 2 for n, m in zip(sizes, means, strict=True)), Fraction())
    within = sum((_squares(group, m) for group, m in zip(exact, means, strict=True)), Fraction())
    others = len(exact) - 1
    free = total - len(exact)
    return Anova(
        groups=len(exact),
        results=total,
        mean=float(mean),
        between_square=float(between / others) if others else None,
        within_square=float(within / free) if free else None,
        typical_size=_typical_size(sizes) if others else None,
    )


def _squares(group: Sequence[Fraction], mean: Fraction) -> Fraction:
    return sum(((result - mean) ** 2 for result in group), Fraction())


def _typical_size(sizes: Sequence[int]) -> float:
    total = sum(sizes)
    return (total - sum(n * n for n in sizes) / total) / (len(sizes) - 1)


def scatters_more_than(spread: float, stated: float, dof: float) -> float:
    """Chance of seeing such a spread or a larger one if `stated` were the true one.

    The chi-squared test of a standard deviation: dof · spread² / stated² (NIST/SEMATECH e-Handbook
    of Statistical Methods, 1.3.5.8).
    """
    from scipy.special import chdtrc

    return float(chdtrc(dof, dof * (spread / stated) ** 2))
