"""The budget of doubt of one current: its parts, what each weighs, what is common to all steps.

Follows JCGM 100:2008 (the GUM): 5.1.2 for the sum, G.4.1 for the degrees of freedom, and 5.2.2,
F.1.2.3 for the covariance that common parts bring about between two results.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, cast, get_args

from acquire.record.other_hands import number

Distribution = Literal["normal", "rectangular", "triangular", "u-shaped"]
Kind = Literal[
    "scatter",
    "accuracy",
    "zero",
    "speed scatter",
    "speed accuracy",
    "slope",
    "voltage",
    "gap",
    "heat",
    "stated",
]
"""What a part comes from; the word by which the same part is found in another step's budget."""

HALF_WIDTH_K = 1.96
"""Standard uncertainties to either side that hold 95 % of a normal distribution; what `±` shows."""
DOMINATES = 0.7
"""A part above this share of the whole standard uncertainty gives the result its own shape."""


@dataclass(frozen=True, slots=True)
class Part:
    """One source of doubt."""

    kind: Kind
    name: str
    """In plain words, as in `the ammeter's accuracy`."""
    u: float
    """Standard uncertainty of the source, in its own unit of measure."""
    sensitivity: float = 1.0
    """Amperes for one unit of measure of the source; the sign counts for common parts."""
    distribution: Distribution = "normal"
    dof: float = math.inf
    common: bool = False
    """True when the same error is in every step, as with a meter's gain."""
    unit_of_measure: str = "A"

    @property
    def amps(self) -> float:
        """Signed contribution to the current [A]."""
        return self.sensitivity * self.u

    @property
    def u_amps(self) -> float:
        """Contribution to the standard uncertainty [A]."""
        return abs(self.amps)


@dataclass(frozen=True, slots=True)
class Budget:
    """All parts of the doubt of one current."""

    parts: tuple[Part, ...]
    missing: tuple[str, ...] = ()
    """What should be a part but is not known, in plain words."""

    @property
    def u(self) -> float:
        """Combined standard uncertainty [A] (JCGM 100:2008, eq. 10)."""
        return math.hypot(*(part.amps for part in self.parts))

    @property
    def dof(self) -> float:
        """Effective degrees of freedom (Welch-Satterthwaite, JCGM 100:2008, eq. G.2b)."""
        return welch_satterthwaite([(part.u_amps, part.dof) for part in self.parts])

    @property
    def biggest(self) -> Part | None:
        """The part that weighs most; None when there is no doubt at all."""
        heavy = max(self.parts, key=lambda part: part.u_amps, default=None)
        return heavy if heavy is not None and heavy.u_amps > 0.0 else None

    @property
    def dominating_rectangle(self) -> Part | None:
        """The rectangular part that makes up more than 70 % of the whole, if there is one."""
        heavy = self.biggest
        if heavy is None or heavy.distribution != "rectangular":
            return None
        return heavy if heavy.u_amps > DOMINATES * self.u else None

    def share_percent(self, part: Part) -> float:
        """Part of the variance that `part` makes up [%]."""
        return 100.0 * (part.amps / self.u) ** 2 if self.u > 0.0 else 0.0

    def words(self) -> str:
        """Say which part weighs most, as in `the ammeter's accuracy is 94 % of the doubt`."""
        heavy = self.biggest
        if heavy is None:
            return "no doubt is stated"
        return f"{heavy.name} is {self.share_percent(heavy):.0f} % of the doubt"

    def without(self, *kinds: Kind) -> Budget:
        """Give the budget less these kinds of part."""
        return replace(self, parts=tuple(part for part in self.parts if part.kind not in kinds))

    def plus(self, *parts: Part) -> Budget:
        """Give the budget with further parts; those that weigh nothing are left out."""
        return replace(self, parts=(*self.parts, *(part for part in parts if part.u_amps > 0.0)))

    def times(self, factor: float) -> Budget:
        """Give the budget of the current multiplied by `factor`."""
        scaled = (replace(part, sensitivity=part.sensitivity * factor) for part in self.parts)
        return replace(self, parts=tuple(scaled))

    def to_data(self) -> dict[str, object]:
        """Give the budget as plain data for a record; unlimited degrees of freedom are null."""
        return {
            "u_amps": self.u,
            "dof": finite_or_none(self.dof),
            "biggest": self.words(),
            "missing": list(self.missing),
            "parts": [self._part_data(part) for part in self.parts],
        }

    def _part_data(self, part: Part) -> dict[str, object]:
        return {
            "kind": part.kind,
            "name": part.name,
            "u": part.u,
            "unit_of_measure": part.unit_of_measure,
            "sensitivity": part.sensitivity,
            "u_amps": part.u_amps,
            "share_percent": self.share_percent(part),
            "distribution": part.distribution,
            "dof": finite_or_none(part.dof),
            "common": part.common,
        }

    @classmethod
    def from_data(cls, data: Mapping[str, object]) -> Budget:
        """Read back what `to_data` wrote."""
        parts = cast("Sequence[Mapping[str, object]]", data["parts"])
        missing = cast("Sequence[str]", data.get("missing", ()))
        return cls(tuple(_part_from_data(part) for part in parts), tuple(missing))


def welch_satterthwaite(parts: Sequence[tuple[float, float]]) -> float:
    """Effective degrees of freedom of (standard uncertainty, degrees of freedom) pairs."""
    variance = math.fsum(u * u for u, _ in parts)
    below = math.fsum(u**4 / dof for u, dof in parts if math.isfinite(dof))
    return variance * variance / below if below > 0.0 else math.inf


def covariance(budgets: Sequence[Budget]) -> list[list[float]]:
    """Covariance matrix of the currents the budgets belong to [A²].

    Parts that are common and of one kind and name are the same error in both currents.
    """
    return [
        [one.u**2 if row == column else _shared(one, other) for column, other in enumerate(budgets)]
        for row, one in enumerate(budgets)
    ]


def correlation(budgets: Sequence[Budget]) -> list[list[float]]:
    """Correlation matrix of the currents the budgets belong to."""
    matrix = covariance(budgets)
    sizes = [budget.u for budget in budgets]
    return [
        [
            1.0 if row == column else _ratio(value, sizes[row] * sizes[column])
            for column, value in enumerate(line)
        ]
        for row, line in enumerate(matrix)
    ]


def degrees_of_freedom(kept: object) -> float:
    """Read back what `finite_or_none` kept of degrees of freedom.

    Raises:
        ValueError: If they are not above zero.
    """
    dof = math.inf if kept is None else number(kept, most=math.inf)
    if not dof > 0.0:
        raise ValueError(f"{dof} degrees of freedom")
    return dof


def finite_or_none(value: float) -> float | None:
    """None for what JSON cannot write."""
    return value if math.isfinite(value) else None


def _shared(one: Budget, other: Budget) -> float:
    there = {(part.kind, part.name): part.amps for part in other.parts if part.common}
    here = (part for part in one.parts if part.common)
    return math.fsum(part.amps * there.get((part.kind, part.name), 0.0) for part in here)


def _ratio(value: float, size: float) -> float:
    return max(-1.0, min(1.0, value / size)) if size > 0.0 else 0.0


def _part_from_data(data: Mapping[str, object]) -> Part:
    u, kind, distribution = number(data["u"]), data["kind"], data["distribution"]
    if u < 0.0:
        raise ValueError("an uncertainty below zero")
    if kind not in get_args(Kind) or distribution not in get_args(Distribution):
        raise ValueError("a part of no kind that is known")
    return Part(
        kind=cast("Kind", kind),
        name=str(data["name"]),
        u=u,
        sensitivity=number(data["sensitivity"]),
        distribution=cast("Distribution", distribution),
        dof=degrees_of_freedom(data.get("dof")),
        common=bool(data["common"]),
        unit_of_measure=str(data["unit_of_measure"]),
    )
