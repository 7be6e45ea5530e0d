"""How much each point weighs in the fit, and which points are only a lower bound."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.curve.model import FloatArray
from acquire.curve.points import CannotFit, CurvePoint

ASSUMED_SHARE = 0.0075
"""Standard uncertainty taken for a reading that comes without one, as a share of the top current
(an engineering choice: a one per cent clamp and a steady hand)."""
FOOT_SHARE = 0.01
"""Rows at or under this share of the top current are the foot of the curve."""
FLOWING_SHARE = 0.03
"""From this share of the top current on, current flows beyond doubt."""
EQUAL_SHARE = 0.002
"""Top readings closer together than this share of the top current are called equal."""
NO_AMPS = 1e-6
"""Below this no ammeter of a rig tells a current from none."""
RISE_SHARE = 0.01
"""A rise per step above this share, right before equal readings, makes them a limit."""


@dataclass(frozen=True, slots=True)
class WeighedPoints:
    """The points as arrays (n,), ascending in speed, amps and rpm with their sigmas (k = 1)."""

    shaft_rpm: FloatArray
    amps: FloatArray
    sigma_amps: FloatArray
    sigma_rpm: FloatArray
    foot: NDArray[np.bool_]
    censored: NDArray[np.bool_]
    top_amps: float
    flowing_rpm: float
    """The lowest speed at which current flows beyond doubt."""
    assumed: bool
    """Whether at least one reading came without an uncertainty."""
    plateau: bool
    """Whether equal top readings were taken as a limit."""

    @property
    def degrees_of_freedom(self) -> int:
        """Points that speak on the shape, less three parameters. The foot counts once."""
        rising = int(np.count_nonzero(~self.foot & ~self.censored))
        return rising + min(1, int(np.count_nonzero(self.foot))) - 3

    @property
    def limit_amps(self) -> float | None:
        """Where the readings stop rising because something holds them, None when nothing does."""
        held = self.amps[self.censored]
        if not held.size or held.max() < self.amps[~self.censored].max():
            return None
        return float(held.max())


def weigh(points: Sequence[CurvePoint], *, common_gain: float) -> WeighedPoints:
    """Sort and weigh the points; raise CannotFit where no curve can be laid through them."""
    ordered = sorted(points, key=lambda point: point.shaft_rpm)
    _refuse_impossible(ordered)
    amps = np.array([point.amps for point in ordered], float)
    top_amps = float(amps.max(initial=0.0))
    foot = amps <= FOOT_SHARE * top_amps
    _refuse_too_few(ordered, top_amps)
    plateau = _plateau(ordered, top_amps)
    return WeighedPoints(
        shaft_rpm=np.array([point.shaft_rpm for point in ordered], float),
        # Below cut-in a unit that feeds its own field takes current: that is the foot, at zero.
        amps=np.maximum(amps, 0.0),
        sigma_amps=_sigma_amps(ordered, foot, top_amps, common_gain),
        sigma_rpm=np.array([point.u_shaft_rpm or 0.0 for point in ordered], float),
        foot=foot,
        censored=np.array([point.censored for point in ordered]) | plateau,
        top_amps=top_amps,
        flowing_rpm=_flowing_rpm(ordered, top_amps),
        assumed=any(not point.u_amps for point in ordered),
        plateau=bool(plateau.any()),
    )


def _refuse_impossible(ordered: Sequence[CurvePoint]) -> None:
    for point in ordered:
        numbers = (point.shaft_rpm, point.amps, point.u_amps or 0.0, point.u_shaft_rpm or 0.0)
        if not all(math.isfinite(number) for number in numbers) or point.shaft_rpm < 0:
            raise CannotFit(
                f"A point at {point.shaft_rpm:g} rpm with {point.amps:g} A is no reading.",
                what_to_do="Leave the row out, or type in the figures that were read.",
            )


def _refuse_too_few(ordered: Sequence[CurvePoint], top_amps: float) -> None:
    if len({point.shaft_rpm for point in ordered}) < 2:
        raise CannotFit(
            f"A curve needs readings at two speeds or more; here is {_count(ordered)}.",
            what_to_do="Measure at least at idle speed and at rated speed.",
        )
    flowing = {point.shaft_rpm for point in ordered if point.amps > FOOT_SHARE * top_amps}
    if top_amps <= NO_AMPS or not flowing:
        raise CannotFit(
            "No current flows at any speed, so there is no curve to fit.",
            what_to_do="Look for the reason first: not excited, no drive, or no connection at B+.",
        )
    if max(flowing) <= 0:
        raise CannotFit(
            "Current is read at standstill only, so there is no curve to fit.",
            what_to_do="Check the zero of the ammeter and the speed column.",
        )


def _count(ordered: Sequence[CurvePoint]) -> str:
    if not ordered:
        return "none"
    return "one" if len(ordered) == 1 else f"only {ordered[0].shaft_rpm:g} rpm"


def _flowing_rpm(ordered: Sequence[CurvePoint], top_amps: float) -> float:
    return next(
        point.shaft_rpm
        for point in ordered
        if point.amps > FLOWING_SHARE * top_amps and point.shaft_rpm > 0
    )


def _sigma_amps(
    ordered: Sequence[CurvePoint], foot: NDArray[np.bool_], top_amps: float, common_gain: float
) -> FloatArray:
    """The part of each uncertainty that is the point's own; the foot weighs less."""
    stated = np.array([point.u_amps or ASSUMED_SHARE * top_amps for point in ordered], float)
    common = common_gain * np.array([point.amps for point in ordered])
    own = np.sqrt(np.maximum(stated**2 - common**2, (0.1 * stated) ** 2))
    own = np.maximum(own, 1e-4 * top_amps)
    return np.where(foot, np.hypot(own, FOOT_SHARE * top_amps), own)


def _plateau(ordered: Sequence[CurvePoint], top_amps: float) -> NDArray[np.bool_]:
    """Which points are the equal top readings of a limited curve (none: all False)."""
    none = np.zeros(len(ordered), bool)
    equal = np.array([point.amps >= (1 - EQUAL_SHARE) * top_amps for point in ordered])
    first = int(np.argmax(equal))
    rising = [point for point in ordered[:first] if point.amps > FOOT_SHARE * top_amps]
    speeds = [point.shaft_rpm for point in ordered[first:]]
    if not equal[first:].all() or len(rising) < 2 or speeds[0] == speeds[-1]:
        return none
    last_rise = ordered[first].amps - rising[-1].amps
    return equal if last_rise > RISE_SHARE * top_amps else none
