"""What the judging tests are made of: a rated curve, a rule, points."""

from __future__ import annotations

from typing import Literal

from acquire.curve.measured_point import MeasuredPoint
from acquire.judge.slopes import Slope
from acquire.judge.steady_point import (
    ChannelMean,
    Settled,
    SteadyPoint,
    Step,
    Trust,
    steady_point,
)
from profiles.accuracy import Accuracy
from profiles.alternator import RatedCurve, Regulator
from profiles.rule import Accept, Decision

RATED_POINTS = ((1500.0, 45.0), (2000.0, 60.0), (3000.0, 77.0), (6000.0, 90.0))


def rated_curve(
    points: tuple[tuple[float, float], ...] = RATED_POINTS,
    *,
    state: Literal["warm", "cold"] = "warm",
    derived: bool = False,
    regulator: Regulator = "internal",
    command: str | None = None,
    max_shaft_rpm: float | None = None,
) -> RatedCurve:
    """The invented 14 V 45/90 A machine, or other points."""
    return RatedCurve(
        title="14 V 45/90 A (invented)",
        volts=13.5,
        state=state,
        points=points,
        derived=derived,
        source="invented",
        system_volts=12.0,
        max_shaft_rpm=max_shaft_rpm,
        pole_pairs=6,
        regulator=regulator,
        command=command,
        field="fed by unit",
        marking=None,
        needs=(),
        turns="either",
        isolated_earth=False,
    )


def within(
    percent: float = 10.0,
    *,
    decision: Decision = "guarded",
    confidence: float = 0.95,
    at: Literal["rated speeds", "measured speeds"] = "rated speeds",
) -> Accept:
    """A rule: so many percent below rated."""
    return Accept(below_percent=percent, decision=decision, confidence=confidence, at=at)


def rows(*pairs: tuple[float, float], u_amps: float | None = 0.5) -> list[MeasuredPoint]:
    """Points from elsewhere with one uncertainty."""
    return [MeasuredPoint(rpm, amps, u_amps) for rpm, amps in pairs]


def read(
    number: int,
    set_rpm: float,
    amps: float,
    *,
    shaft_rpm: float | None = None,
    percent: float = 1.0,
    u_scatter: float = 0.05,
    dof: float = 8.0,
    settled: Settled = "yes",
    volts: float | None = 13.5,
    slope: Slope | None = None,
) -> SteadyPoint:
    """A steady point read with an ammeter of so many percent of reading."""
    return steady_point(
        step=Step(number, set_rpm, settled, settle_s=20.0, readings=200),
        amps=ChannelMean(amps, u_scatter, dof),
        shaft_rpm=ChannelMean(set_rpm if shaft_rpm is None else shaft_rpm, 0.5),
        amps_trust=Trust(Accuracy(percent_of_reading=percent), "the ammeter"),
        shaft_trust=Trust(Accuracy(percent_of_reading=0.05), "the tachometer"),
        volts=None if volts is None else ChannelMean(volts, 0.005),
        volts_trust=Trust(Accuracy(absolute=0.02), "the voltmeter"),
        speed_slope=slope or Slope(0.02, 0.006),
        volts_slope=Slope(-1.0, 0.5),
        test_volts=13.5,
    )
