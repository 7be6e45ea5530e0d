"""Will the drive's motor carry this unit? Said before it turns, by the power stated for it."""

from __future__ import annotations

from acquire.judge.rated_line import rated_at
from acquire.match.belt import shaft_kw
from acquire.sweep.plan import SweepPlan
from profiles.alternator import RatedCurve
from profiles.rig import Rig


def stall_words(rig: Rig, plan: SweepPlan, rated: RatedCurve | None) -> str:
    """The steps at which the drive may stall, in words; empty where none, or nothing is known.

    A step is named where the rated current at the test voltage, at 55 % efficiency (as in
    `shaft_kw`, with its source), asks more than the drive's `kw`.
    """
    kw = rig.drive.kw if rig.drive is not None else None
    volts = plan.test_volts
    if kw is None or volts is None or rated is None:
        return ""
    asked = {step.set_rpm: _kw_at(step.set_rpm, rated, volts) for step in plan.steps}
    over = {rpm: power for rpm, power in asked.items() if power is not None and power > kw}
    if not over:
        return ""
    speeds = ", ".join(f"{rpm:.0f}" for rpm in sorted(over))
    return (
        f"The drive gives {kw:g} kW; at {speeds} rpm this unit asks up to"
        f" {max(over.values()):.1f} kW: it may stall there."
    )


def _kw_at(shaft_rpm: float, rated: RatedCurve, volts: float) -> float | None:
    amps = rated_at(rated.points, shaft_rpm)
    return None if amps is None else shaft_kw(amps=amps, volts=volts)
