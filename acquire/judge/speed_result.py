"""The judgement at one speed: what was measured there against what is allowed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from acquire.judge.budget import Budget, Part
from acquire.judge.figure import Figure
from acquire.judge.hot_loss import HotLoss
from acquire.judge.probability import p_conform_of, quantile
from acquire.judge.slopes import typical_volts_slope
from acquire.judge.steady_point import Settled

SpeedOutcome = Literal["pass", "fail", "undecided", "not measured", "not judged"]
Why = Literal["", "doubt", "not settled", "cold", "voltage", "not measured", "outside"]
"""What keeps a speed from a plain pass or fail."""


@dataclass(frozen=True, slots=True)
class SpeedResult:
    """One row of the verdict. What is not known is None."""

    shaft_rpm: float
    amps: float | None = None
    """Moved to this speed."""
    u_amps: float | None = None
    """Standard uncertainty with all parts [A]."""
    settled: Settled | None = None
    rated_amps: float | None = None
    limit_amps: float | None = None
    margin_amps: float | None = None
    """Measured less limit: above 0 is good."""
    p_conform: float | None = None
    """Chance that it meets the limit as it was measured (cold, if it was cold)."""
    outcome: SpeedOutcome = "not judged"
    why: Why = ""
    hot_amps: float | None = None
    """What is left after the hot loss, where a cold run meets a warm rating."""
    u_hot_amps: float | None = None
    p_conform_hot: float | None = None
    volts: float | None = None
    budget: Budget | None = None
    steps: tuple[int, ...] = ()
    measured_rpm: tuple[float, ...] = ()

    @property
    def p_decided(self) -> float | None:
        """The chance the decision was taken by: after the hot loss where that was counted.

        A fail is decided by what was measured, without giving it any heat.
        """
        return chance_decided(self.outcome, self.p_conform, self.p_conform_hot)

    def to_data(self) -> dict[str, object]:
        """Give the row as plain data: the keys every reader relies on, then our further ones."""
        data: dict[str, object] = {
            "shaft_rpm": self.shaft_rpm,
            "amps": self.amps,
            "u_amps": self.u_amps,
            "settled": self.settled,
            "rated_amps": self.rated_amps,
            "limit_amps": self.limit_amps,
            "margin_amps": self.margin_amps,
            "p_conform": self.p_conform,
            "outcome": self.outcome,
            "why": self.why or None,
        }
        if self.hot_amps is not None:
            data["hot_amps"] = self.hot_amps
            data["u_hot_amps"] = self.u_hot_amps
            data["p_conform_hot"] = self.p_conform_hot
        return data


@dataclass(frozen=True, slots=True)
class Bar:
    """The decision rule in numbers: what a margin must be, in standard uncertainties.

    JCGM 106:2012: guarded acceptance (8.3.2) with guard band z·u, simple acceptance (8.2.1).
    A pass is a conjunction over the speeds and needs no correction (intersection-union test,
    Berger, Technometrics 24, 1982, 295-300); a fail is a union, and is Bonferroni-corrected.
    """

    guarded: bool
    confidence: float
    speeds: int
    """How many speeds are judged."""

    @property
    def pass_z(self) -> float:
        """Standard uncertainties above the limit that a pass needs."""
        return quantile(self.confidence)

    @property
    def fail_doubt(self) -> float:
        """Chance of a false fail allowed to each speed."""
        return (1.0 - self.confidence) / max(self.speeds, 1)

    @property
    def fail_z(self) -> float:
        """Standard uncertainties below the limit that a fail needs."""
        return quantile(1.0 - self.fail_doubt)

    def passes(self, margin: float, budget: Budget | None, *, settled: Settled | None) -> bool:
        """True when the margin clears the limit as the rule asks.

        Where the chance does not follow the normal distribution (few degrees of freedom, a
        dominating rectangle) it must reach the confidence by its own distribution too.
        """
        if not self.guarded and settled != "no":
            return margin >= 0.0
        if budget is None:
            return False
        clears = margin >= self.pass_z * budget.u
        return clears and (budget.u == 0.0 or _reaches(margin, budget, self.confidence))

    def fails(self, margin: float, budget: Budget | None) -> bool:
        """True when the margin is below the limit as the rule asks for a fail."""
        if not self.guarded:
            return margin < 0.0
        if budget is None:
            return False
        below = margin <= -self.fail_z * budget.u
        return below and (budget.u == 0.0 or _reaches(-margin, budget, 1.0 - self.fail_doubt))


@dataclass(frozen=True, slots=True)
class Conditions:
    """How the reading was taken, as far as it matters for one speed."""

    test_volts: float
    volts_within: float
    hot_loss: HotLoss | None = None
    """Given where a cold run meets a warm rating."""


def chance_decided(
    outcome: str, as_measured: float | None, after_heat: float | None
) -> float | None:
    """Of the two chances the one a decision rests on; both may come from a record."""
    return as_measured if outcome == "fail" or after_heat is None else after_heat


def judge_speed(
    figure: Figure, *, rated_amps: float, limit_amps: float, bar: Bar, conditions: Conditions
) -> SpeedResult:
    """Judge one speed by the decision rule, under the conditions it was measured in."""
    margin = figure.amps - limit_amps
    hot_amps, hot_budget = _hot(figure, conditions.hot_loss)
    outcome, why = _outcome(figure, margin, hot_amps - limit_amps, hot_budget, bar, conditions)
    is_hot = conditions.hot_loss is not None
    return SpeedResult(
        shaft_rpm=figure.shaft_rpm,
        amps=figure.amps,
        u_amps=figure.u_amps,
        settled=figure.settled,
        rated_amps=rated_amps,
        limit_amps=limit_amps,
        margin_amps=margin,
        p_conform=_chance(margin, figure.budget),
        outcome=outcome,
        why=why,
        hot_amps=hot_amps if is_hot else None,
        u_hot_amps=hot_budget.u if is_hot and hot_budget is not None else None,
        p_conform_hot=_chance(hot_amps - limit_amps, hot_budget) if is_hot else None,
        volts=figure.volts,
        budget=figure.budget,
        steps=figure.steps,
        measured_rpm=figure.measured_rpm,
    )


def _outcome(
    figure: Figure,
    margin: float,
    hot_margin: float,
    hot_budget: Budget | None,
    bar: Bar,
    conditions: Conditions,
) -> tuple[SpeedOutcome, Why]:
    off_volts = volts_off(figure.volts, conditions)
    if not off_volts and bar.passes(hot_margin, hot_budget, settled=figure.settled):
        return "pass", ""
    if off_volts and (figure.volts or 0.0) > conditions.test_volts:
        return "undecided", "voltage"  # loaded too lightly: its own regulator may hold it back
    if bar.fails(margin + _volts_allowance(figure, off_volts), figure.budget):
        return "fail", ""
    if off_volts:
        return "undecided", "voltage"
    if figure.settled == "no":
        return "undecided", "not settled"
    if bar.passes(margin, figure.budget, settled=figure.settled):
        return "undecided", "cold"
    return "undecided", "doubt"


def volts_off(volts: float | None, conditions: Conditions) -> float:
    """How far the voltage was from the test voltage [V]; 0 where it was near enough or unknown."""
    if volts is None:
        return 0.0
    off = abs(volts - conditions.test_volts)
    return off if off > conditions.volts_within + 1e-9 else 0.0


def _volts_allowance(figure: Figure, off_volts: float) -> float:
    """What a wrong voltage may have cost: a fail must hold even with it given back [A]."""
    if off_volts == 0.0 or not figure.volts:
        return 0.0
    slope = typical_volts_slope(
        shaft_rpm=figure.shaft_rpm, amps=figure.amps, volts=abs(figure.volts)
    )
    return (abs(slope.value) + slope.u) * off_volts


def _hot(figure: Figure, loss: HotLoss | None) -> tuple[float, Budget | None]:
    """Give current and budget after the hot loss."""
    if loss is None:
        return figure.amps, figure.budget
    kept = 1.0 - loss.fraction
    amps = figure.amps * kept
    if figure.budget is None:
        return amps, None
    heat = Part("heat", "what heat takes from it", loss.u, sensitivity=figure.amps)
    return amps, figure.budget.times(kept).plus(heat)


def _chance(margin: float, budget: Budget | None) -> float | None:
    return None if budget is None else p_conform_of(margin, budget)


def _reaches(margin: float, budget: Budget, chance: float) -> bool:
    """True when the chance by the budget's own distribution is high enough.

    The allowance is for rounding: a margin of exactly z·u has the chance asked for.
    """
    normal = budget.dominating_rectangle is None and math.isinf(budget.dof)
    return normal or p_conform_of(margin, budget) >= chance - 1e-9
