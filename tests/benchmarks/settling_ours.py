"""The product's own rules on simulated signals: the equivalence test, and the whole hold."""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator
from dataclasses import dataclass

from acquire.settle.hold import Hold, HoldLook
from acquire.settle.looks import HoldPlan
from acquire.settle.lore import Lore
from acquire.settle.student import student_quantile
from acquire.settle.tolerance import ChannelPlan
from tests.benchmarks.settling_signals import HORIZON_S, SET_RPM, Signal


@dataclass(frozen=True, slots=True)
class Declared:
    """When a method declared a step steady, and what it recorded."""

    t_s: float
    amps: float
    u95: float
    """Half-width of its 95 % interval (nan where the method states none) [A]."""
    kind: str = "settled"
    unsteady: bool = False


def readings(signal: Signal) -> Iterator[tuple[float, str, float]]:
    """Amps and speed in order of time, missing readings left out."""
    amps = (
        (t, "amps", v)
        for t, v in zip(signal.t_s.tolist(), signal.amps.tolist(), strict=True)
        if not math.isnan(v)
    )
    rpm = (
        (t, "shaft_rpm", v)
        for t, v in zip(signal.rpm_t_s.tolist(), signal.rpm.tolist(), strict=True)
    )
    return heapq.merge(amps, rpm)


def plan_of(
    signal: Signal,
    *,
    predict: bool,
    fast: bool = False,
    with_slope: bool = True,
    lore: Lore | None = None,
) -> HoldPlan:
    """The plan a method would give for this signal."""
    channels = {
        "amps": ChannelPlan(signal.relative, 0.0, signal.machine.step),
        "shaft_rpm": ChannelPlan(0.003, 5.0, 0.1),
    }
    return HoldPlan(
        began_s=0.0,
        set_rpm=SET_RPM,
        channels=channels,
        horizon_s=HORIZON_S,
        give_up_s=signal.limit_s,
        predict=predict,
        slope_amps_per_rpm=signal.slope_known if with_slope else None,
        fast=fast,
        lore=lore,
    )


def hold_signal(signal: Signal, plan: HoldPlan) -> HoldLook:
    """Push readings until the hold takes the step; give up at the limit."""
    hold = Hold(plan)
    for t_s, channel, value in readings(signal):
        look = hold.push(channel, t_s, value)
        if look is not None and look.taken is not None:
            return look
    return hold.give_up(signal.limit_s)


def at_set_speed(look: HoldLook, plan: HoldPlan) -> tuple[float, float]:
    """Amps moved to the speed set, and the half-width of its 95 % interval [A]."""
    amps, rpm = look.channels["amps"], look.channels["shaft_rpm"]
    slope = plan.slope_amps_per_rpm or 0.0
    value = amps.mean - slope * (rpm.mean - plan.set_rpm)
    factor = student_quantile(0.975, max(int(amps.dof), 1))
    return value, math.hypot(factor * amps.u, 1.96 * slope * rpm.u)


def declare(signal: Signal, plan: HoldPlan) -> Declared | None:
    """What the hold declares, None where it gives up."""
    look = hold_signal(signal, plan)
    if look.taken in (None, "no"):
        return None
    value, u95 = at_set_speed(look, plan)
    kind = "predicted" if look.taken == "predicted" else "settled"
    return Declared(look.t_s, value, u95, kind, look.channels["amps"].unsteady)
