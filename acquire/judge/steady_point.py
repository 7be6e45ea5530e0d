"""The steady point of a step: what the channels gave, moved to the set speed, with its doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from acquire.judge.budget import Budget, Distribution, Part
from acquire.judge.slopes import Slope
from profiles.accuracy import Accuracy

Settled = Literal["yes", "predicted", "no"]

SPEED_WITHIN = 0.02
"""A reading may be moved by the local slope over at most this share of the speed."""

NO_SLOPE = "how the current rises with speed here"
"""Said among what is missing from a budget."""


@dataclass(frozen=True, slots=True)
class ChannelMean:
    """What one channel gave at a step."""

    mean: float
    u: float = 0.0
    """Statistical standard uncertainty: scatter, display step, drift."""
    dof: float = math.inf


@dataclass(frozen=True, slots=True)
class Trust:
    """How far the instrument on a channel can be trusted."""

    accuracy: Accuracy | None
    name: str
    """In plain words, as in `the ammeter`."""
    scale: float = 1.0
    """Turns the instrument's unit of measure into the channel's: a pulley ratio, 60/pole pairs."""

    def u(self, value: float) -> float:
        """Standard uncertainty at this value, in the channel's unit of measure."""
        if self.accuracy is None:
            return 0.0
        return abs(self.scale) * self.accuracy.u(value / self.scale)

    @property
    def distribution(self) -> Distribution:
        """Shape of the error."""
        return "rectangular" if self.accuracy is None else self.accuracy.distribution


@dataclass(frozen=True, slots=True)
class Step:
    """What a step is and how it ended."""

    number: int
    set_rpm: float
    settled: Settled
    settle_s: float | None = None
    readings: int | None = None


@dataclass(frozen=True, slots=True)
class SteadyPoint:
    """The result of a step. Where nothing usable was read the figures are None."""

    step: int
    set_rpm: float
    shaft_rpm: float | None = None
    u_shaft_rpm: float | None = None
    amps: float | None = None
    u_amps: float | None = None
    """Standard uncertainty of all parts but the speed [A]."""
    volts: float | None = None
    u_volts: float | None = None
    case_c: float | None = None
    settled: Settled | None = None
    settle_s: float | None = None
    readings: int | None = None
    amps_at_set_rpm: float | None = None
    """None also where the shaft was more than 2 % off the set speed."""
    u_amps_at_set_rpm: float | None = None
    dof: float = math.inf
    budget: Budget | None = None
    """Of `amps_at_set_rpm`; of `amps` where that is None. None where no uncertainty is known."""
    slope: Slope | None = None
    """Amps over shaft speed here [A per rpm]; None where it is not known."""

    @property
    def usable(self) -> bool:
        """True when the step gave a current, and a speed at which the shaft turned."""
        return self.shaft_rpm is not None and self.shaft_rpm > 0.0 and self.amps is not None


def steady_point(
    *,
    step: Step,
    amps: ChannelMean,
    shaft_rpm: ChannelMean,
    amps_trust: Trust,
    shaft_trust: Trust,
    volts: ChannelMean | None = None,
    volts_trust: Trust | None = None,
    case_c: float | None = None,
    u_zero_amps: float = 0.0,
    speed_slope: Slope | None = None,
    volts_slope: Slope | None = None,
    test_volts: float | None = None,
) -> SteadyPoint:
    """Make the steady point of a step.

    `amps` is net of the zero correction, whose standard uncertainty is `u_zero_amps`.
    `speed_slope` is in A per rpm, `volts_slope` in A per V. How far the voltage was from
    `test_volts` is not corrected; it is doubt: a rectangle of that half-width times the slope.
    """
    amps_parts = _amps_parts(amps, amps_trust, u_zero_amps)
    u_volts = _u_of(volts, volts_trust)
    volts_parts = _volts_parts(volts, u_volts, volts_slope, test_volts)
    point = SteadyPoint(
        step=step.number,
        set_rpm=step.set_rpm,
        shaft_rpm=shaft_rpm.mean,
        u_shaft_rpm=_u_of(shaft_rpm, shaft_trust),
        amps=amps.mean,
        volts=None if volts is None else volts.mean,
        u_volts=u_volts,
        case_c=case_c,
        settled=step.settled,
        settle_s=step.settle_s,
        readings=step.readings,
    )
    own = Budget((), _missing(amps_trust, shaft_trust)).plus(*amps_parts, *volts_parts)
    speed = _speed_parts(shaft_rpm, shaft_trust)
    return _at_set_speed(replace(point, u_amps=own.u), own, speed, speed_slope)


def moved(point: SteadyPoint, to_rpm: float) -> tuple[float, Budget | None] | None:
    """Give the current [A] and its budget at a speed near the point's own; None beyond 2 %.

    A point whose slope is not known keeps its current.
    """
    if point.shaft_rpm is None or point.amps is None:
        return None
    if not within_reach(point.shaft_rpm, to_rpm):
        return None
    slope = point.slope or Slope(0.0)
    amps = point.amps + slope.value * (to_rpm - point.shaft_rpm)
    if point.budget is None:
        return amps, None
    budget = point.budget.without("slope").plus(_slope_part(slope, to_rpm - point.shaft_rpm))
    return amps, budget


def within_reach(shaft_rpm: float, to_rpm: float) -> bool:
    """True when a reading at `shaft_rpm` may be moved to `to_rpm`."""
    return abs(shaft_rpm - to_rpm) <= SPEED_WITHIN * abs(to_rpm) + 1e-9


def not_measured(step: int, set_rpm: float) -> SteadyPoint:
    """Make the row of a step without a usable reading."""
    return SteadyPoint(step=step, set_rpm=set_rpm)


def with_slope(point: SteadyPoint, slope: Slope | None) -> SteadyPoint:
    """Give the point moved to its set speed by another slope, as when the whole curve is known."""
    if point.budget is None or not point.usable:
        return replace(point, slope=slope)
    own = point.budget.without("speed scatter", "speed accuracy", "slope")
    kept = [part for part in point.budget.parts if part.kind in ("speed scatter", "speed accuracy")]
    return _at_set_speed(point, own, kept, slope)


def _at_set_speed(
    point: SteadyPoint, own: Budget, speed: list[Part], slope: Slope | None
) -> SteadyPoint:
    known = slope or Slope(0.0)
    weighed = [replace(part, sensitivity=known.value) for part in speed]
    missing = tuple(word for word in own.missing if word != NO_SLOPE)
    missing = missing if slope else (*missing, NO_SLOPE)
    budget = replace(own, missing=missing, parts=(*own.parts, *weighed))
    point = replace(point, slope=slope, budget=budget, dof=budget.dof)
    there = moved(point, point.set_rpm)
    if there is None or there[1] is None:
        return replace(point, amps_at_set_rpm=None, u_amps_at_set_rpm=None)
    amps, full = there[0], there[1]
    return replace(
        point,
        amps_at_set_rpm=amps,
        u_amps_at_set_rpm=full.u,
        budget=full,
        dof=full.dof,
    )


def _amps_parts(amps: ChannelMean, trust: Trust, u_zero_amps: float) -> list[Part]:
    return [
        Part("scatter", "the scatter of the reading", amps.u, dof=amps.dof),
        Part(
            "accuracy",
            f"{trust.name}'s accuracy",
            trust.u(amps.mean),
            distribution=trust.distribution,
            common=True,
        ),
        Part("zero", f"{trust.name}'s zero", u_zero_amps, common=True),
    ]


def _speed_parts(shaft_rpm: ChannelMean, trust: Trust) -> list[Part]:
    """Give the parts of the speed that weigh, still without their sensitivity."""
    scatter = Part(
        "speed scatter",
        "the unsteadiness of the speed",
        shaft_rpm.u,
        dof=shaft_rpm.dof,
        unit_of_measure="rpm",
    )
    accuracy = Part(
        "speed accuracy",
        f"{trust.name}'s accuracy",
        trust.u(shaft_rpm.mean),
        distribution=trust.distribution,
        common=True,
        unit_of_measure="rpm",
    )
    return [part for part in (scatter, accuracy) if part.u > 0.0]


def _slope_part(slope: Slope, moved_rpm: float) -> Part:
    return Part(
        "slope",
        "moving the reading to its speed",
        slope.u,
        sensitivity=moved_rpm,
        unit_of_measure="A/rpm",
    )


def _volts_parts(
    volts: ChannelMean | None,
    u_volts: float | None,
    slope: Slope | None,
    test_volts: float | None,
) -> list[Part]:
    if volts is None or slope is None:
        return []
    off = 0.0 if test_volts is None else abs(volts.mean - test_volts)
    u = math.hypot(u_volts or 0.0, off / math.sqrt(3.0))
    steepness = math.copysign(math.hypot(slope.value, slope.u), slope.value)
    name = "the voltage not being exactly the test voltage"
    return [Part("voltage", name, u, sensitivity=steepness, unit_of_measure="V")]


def _u_of(channel: ChannelMean | None, trust: Trust | None) -> float | None:
    if channel is None:
        return None
    return math.hypot(channel.u, 0.0 if trust is None else trust.u(channel.mean))


def _missing(*trusts: Trust) -> tuple[str, ...]:
    return tuple(f"{trust.name}'s accuracy" for trust in trusts if trust.accuracy is None)
