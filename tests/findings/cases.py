"""Cases made by hand: points, what the channels gave, and a rating."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from acquire.findings.case import Case
from acquire.findings.seen import ChannelSeen, Seen, StepSeen
from acquire.judge.steady_point import SteadyPoint
from acquire.judging import fit_of
from profiles.alternator import AlternatorProfile, RatedCurve
from profiles.catalogue import load_rated

SMALL = "small-frame-14v-90a"


def rating(
    points: Sequence[tuple[float, float]], *, volts: float = 13.5, state: str = "warm"
) -> RatedCurve:
    """A rated curve from a few points."""
    profile = AlternatorProfile.model_validate(
        {
            "title": "of a test",
            "alternator": {"system_volts": 12},
            "rated": {"volts": volts, "state": state, "points": [list(p) for p in points]},
        }
    )
    return profile.rated_curve()


def case(
    amps_at: Mapping[float, float],
    *,
    channels: Sequence[Mapping[str, float | ChannelSeen]] = (),
    told_rpm: Sequence[float] = (),
    rated: RatedCurve | None = None,
    no_rating: bool = False,
    volts: float | Sequence[float] = 13.5,
    **more: Any,
) -> Case:
    """A run at these speeds; `channels` by step, as means or in full."""
    points, steps = [], {}
    for number, (rpm, amps) in enumerate(amps_at.items(), 1):
        bus = volts if isinstance(volts, int | float) else volts[number - 1]
        points.append(
            SteadyPoint(
                number, rpm, shaft_rpm=rpm, u_shaft_rpm=1.0, amps=amps, u_amps=0.3, volts=bus
            )
        )
        read = channels[number - 1] if channels else {}
        steps[number] = StepSeen(
            number,
            rpm,
            {n: v if isinstance(v, ChannelSeen) else ChannelSeen(v) for n, v in read.items()},
            told_rpm=told_rpm[number - 1] if told_rpm else None,
        )
    seen = more.pop("seen", None) or Seen()
    seen.steps = steps
    if rated is None and not no_rating:
        rated = load_rated(SMALL).profile.rated_curve()
    fit = fit_of(points) if max(amps_at.values()) > 1.0 else None
    return Case(
        points=points, rated=rated, fit=fit, seen=seen, test_volts=13.5, **{"state": "warm", **more}
    )
