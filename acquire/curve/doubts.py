"""What to be wary of in a fitted curve, in words the operator can act on."""

from __future__ import annotations

import numpy as np

from acquire.curve.band import knee_measured
from acquire.curve.one_model import ModelFit
from acquire.curve.points import Estimate
from acquire.curve.weighing import ASSUMED_SHARE, WeighedPoints

_DISAGREES = 3.0
"""Sigmas from which on a point and the curve are said to disagree."""
_POOR_SHARE = 0.03
"""A residual spread above this share of the top current, in both models, is no such curve."""
_REACHED_SHARE = 0.8
"""Below this share of the fitted top current the top was not measured."""


def doubts(
    points: WeighedPoints, bridge_map: ModelFit, hyperbola: ModelFit, cut_in: Estimate | None
) -> tuple[str, ...]:
    """Every reason not to take the curve at its word, the gravest first."""
    said = [
        _shape(points, bridge_map, hyperbola),
        _few(points),
        _knee(points, bridge_map),
        _top(points, bridge_map),
        _limit(points),
        _cut_in(cut_in),
        _assumed(points),
        *_disagreeing(points, bridge_map),
    ]
    return tuple(words for words in said if words)


def _shape(points: WeighedPoints, bridge_map: ModelFit, hyperbola: ModelFit) -> str:
    fits = (bridge_map, hyperbola)
    poor = _POOR_SHARE * points.top_amps
    if all(fit.spread > _DISAGREES and _typical_miss(fit) > poor for fit in fits):
        return (
            "The shape is not that of an alternator: neither the bridge map nor the hyperbola "
            "follows the points. Take the points, not the curve."
        )
    return ""


def _typical_miss(fit: ModelFit) -> float:
    return float(np.sqrt(np.mean(fit.residual_amps**2)))


def _few(points: WeighedPoints) -> str:
    count = len(points.shaft_rpm)
    if count == 2:
        return "2 points: the shape is assumed; only values between the two points are of use."
    if points.degrees_of_freedom < 1:
        return (
            f"{count} points for a curve of three parameters: nothing is left over to show "
            "how well the curve follows the unit."
        )
    return ""


def _knee(points: WeighedPoints, bridge_map: ModelFit) -> str:
    flowing = points.amps[~points.foot]
    if knee_measured(points) and flowing.min() <= 0.75 * float(bridge_map.parameters[0]):
        return ""
    lowest = points.shaft_rpm[~points.foot].min()
    return (
        f"The knee was not measured: below {lowest:g} rpm the curve is a guess. "
        "Add a point where about a third of the top current flows."
    )


def _top(points: WeighedPoints, bridge_map: ModelFit) -> str:
    if points.top_amps >= _REACHED_SHARE * float(bridge_map.parameters[0]):
        return ""
    return (
        f"The top of the curve was not measured: the highest reading is {points.top_amps:.1f} A, "
        f"the curve goes on to {bridge_map.parameters[0]:.0f} A. Add a higher speed."
    )


def _limit(points: WeighedPoints) -> str:
    held = points.shaft_rpm[points.censored]
    if not held.size:
        return ""
    reason = "The top readings are equal" if points.plateau else "Readings are marked as limited"
    return (
        f"{reason} (from {held.min():g} rpm on): taken as a limit, such as the regulator's or the "
        "load's, not as what the unit can give; the high end of the band shows what it may give."
    )


def _cut_in(cut_in: Estimate | None) -> str:
    if cut_in is not None:
        return ""
    return "The points do not reveal the cut-in speed: none lies on the steep part."


def _assumed(points: WeighedPoints) -> str:
    if not points.assumed:
        return ""
    return (
        f"Readings came without uncertainty: {ASSUMED_SHARE * points.top_amps:.2g} A "
        f"({100 * ASSUMED_SHARE:g} % of the top current) is taken for each of those."
    )


def _disagreeing(points: WeighedPoints, bridge_map: ModelFit) -> list[str]:
    return [
        f"The point at {rpm:.0f} rpm, {amps:.1f} A, lies {abs(miss):.2g} A "
        f"{'below' if miss > 0 else 'above'} the curve, more than {_DISAGREES:g} times its "
        "uncertainty: read it again."
        for rpm, amps, miss, sigma in zip(
            points.shaft_rpm, points.amps, bridge_map.residual_amps, bridge_map.sigma, strict=True
        )
        if abs(miss) > _DISAGREES * sigma
    ]
