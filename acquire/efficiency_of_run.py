"""Efficiency at each steady point of a run, where a channel measured the torque."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from acquire.curve.points import Estimate
from acquire.findings.seen import Seen
from acquire.judge.efficiency import Efficiency, efficiency, weighted
from acquire.judge.steady_point import SteadyPoint
from profiles.rig import Rig

TORQUE = "torque_nm"


def efficiency_of_run(
    points: Sequence[SteadyPoint], seen: Seen | None, rig: Rig
) -> dict[str, Any] | None:
    """For verdict.json: each point, and the weighted figure where its four speeds were measured."""
    found = [one for point in points if (one := _at(point, seen, rig)) is not None]
    if not found:
        return None
    whole = weighted(found)
    return {
        "method": "based on (EU) 2017/785, Annex: one run, current as the load made it",
        "points": [one.to_data() for one in found],
        "weighted": None if whole is None else {"efficiency": whole.value, "u_efficiency": whole.u},
    }


def _at(point: SteadyPoint, seen: Seen | None, rig: Rig) -> Efficiency | None:
    step = seen.steps.get(point.step) if seen is not None else None
    torque = step.channels.get(TORQUE) if step is not None else None
    if torque is None or torque.mean <= 0 or point.shaft_rpm is None or point.amps is None:
        return None
    if point.volts is None:
        return None
    accuracy = next((c.accuracy for name, c in rig.channels.items() if name == TORQUE), None)
    own = accuracy.u(torque.mean) if accuracy is not None else 0.0
    return efficiency(
        amps=Estimate(point.amps, point.u_amps or 0.0),
        volts=Estimate(point.volts, point.u_volts or 0.0),
        torque_nm=Estimate(torque.mean, ((torque.u or 0.0) ** 2 + own**2) ** 0.5),
        shaft_rpm=Estimate(point.shaft_rpm, point.u_shaft_rpm or 0.0),
    )
