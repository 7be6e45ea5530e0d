"""From a step taken to its steady point: what live runs and replays share, so that they agree."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from acquire.findings.seen import STEADY_POINT, Seen, noted
from acquire.judge.slopes import neighbour_slopes, typical_volts_slope
from acquire.judge.steady_point import (
    ChannelMean,
    SteadyPoint,
    Step,
    Trust,
    not_measured,
    steady_point,
    with_slope,
)
from acquire.record.curve_table import Measured
from acquire.settle.looks import ChannelLook, HoldLook
from acquire.sweep.commands import StepTaken, ZeroTaken
from acquire.sweep.plan import SweepPlan
from profiles.accuracy import Accuracy
from profiles.rig import Rig

NAMES = {
    "shaft_rpm": "the tachometer",
    "w_hz": "the frequency meter",
    "engine_rpm": "the engine's speed reading",
    "drive_rpm": "the drive's speed reading",
    "amps": "the ammeter",
    "volts": "the voltmeter",
}


@dataclass(slots=True)
class PointMaker:
    """Makes steady points with the instruments of one rig."""

    plan: SweepPlan
    rig: Rig
    zero: ZeroTaken | None = None
    points: list[SteadyPoint] = field(default_factory=list)
    seen: Seen = field(default_factory=Seen)
    """What else the run has shown, for the findings."""

    def take(self, step: StepTaken) -> SteadyPoint:
        """The steady point of a step just taken, with the slope known by then."""
        point = self._point(step)
        self.points.append(point)
        self.seen.see(STEADY_POINT, {"step": step.step, **noted(step)})
        return point

    def with_own_slopes(self) -> list[SteadyPoint]:
        """All points again, moved to their set speeds by the slope of the measured curve itself."""
        usable = [p for p in self.points if p.shaft_rpm is not None and p.amps is not None]
        slopes = neighbour_slopes([(p.shaft_rpm or 0.0, p.amps or 0.0) for p in usable])
        by_step = {p.step: slope for p, slope in zip(usable, slopes, strict=True)}
        return [
            with_slope(p, by_step[p.step]) if by_step.get(p.step) is not None else p
            for p in self.points
        ]

    def _point(self, step: StepTaken) -> SteadyPoint:
        look = step.look
        if look is None or not _has_figures(look):
            return not_measured(step.step, step.set_rpm)
        amps, volts = look.channels["amps"], look.channels.get("volts")
        case = look.channels.get("case_c")
        mean_volts = volts.mean if volts is not None else self.plan.test_volts
        return steady_point(
            step=Step(
                number=step.step,
                set_rpm=step.set_rpm,
                settled=look.taken or "no",
                settle_s=round(step.settle_s, 6),
                readings=amps.readings,
            ),
            amps=_mean(amps),
            shaft_rpm=_mean(look.channels["shaft_rpm"]),
            amps_trust=self._trust("amps"),
            shaft_trust=self._shaft_trust(),
            volts=_mean(volts) if volts is not None else None,
            volts_trust=self._trust("volts") if volts is not None else None,
            case_c=case.mean if case is not None else None,
            u_zero_amps=self.zero.u_amps if self.zero else 0.0,
            speed_slope=step.slope,
            volts_slope=typical_volts_slope(
                shaft_rpm=step.set_rpm, amps=amps.mean, volts=mean_volts
            )
            if mean_volts
            else None,
            test_volts=self.plan.test_volts,
        )

    def _trust(self, channel: str, scale: float = 1.0) -> Trust:
        return Trust(self._accuracy(channel), NAMES.get(channel, channel), scale)

    def _shaft_trust(self) -> Trust:
        return self._trust(self.plan.speed_source, self.plan.speed_ratio)

    def _accuracy(self, channel: str) -> Accuracy | None:
        fitting = (one.accuracy for name, one in self.rig.channels.items() if name == channel)
        return next(fitting, None)


def measured_of(point: SteadyPoint) -> Measured:
    """The measured columns of curve.csv."""
    return Measured(
        step=point.step,
        set_rpm=point.set_rpm,
        shaft_rpm=point.shaft_rpm,
        u_shaft_rpm=point.u_shaft_rpm,
        amps=point.amps,
        u_amps=point.u_amps,
        volts=point.volts,
        u_volts=point.u_volts,
        case_c=point.case_c,
        settled=point.settled or "no",
        settle_s=point.settle_s,
        readings=point.readings,
    )


def _has_figures(look: HoldLook) -> bool:
    wanted = [look.channels.get(name) for name in ("amps", "shaft_rpm")]
    return all(one is not None and math.isfinite(one.u) for one in wanted)


def _mean(look: ChannelLook) -> ChannelMean:
    u = look.u if math.isfinite(look.u) else abs(look.mean)  # untold doubt is never no doubt
    return ChannelMean(look.mean, u, look.dof)
