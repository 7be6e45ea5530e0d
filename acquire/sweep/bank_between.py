"""Two settings of a bank on both sides of the test voltage, put together at it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from acquire.settle.looks import ChannelLook, HoldLook
from acquire.sweep.intake import AMPS, VOLTS

BEND = 0.05
"""Half of what a curved line could deviate from the straight one, taken as a tenth of the
difference of the currents (a choice)."""


def nearest_pair(looks: Iterable[HoldLook], volts: float) -> tuple[HoldLook, HoldLook] | None:
    """The two looks that have `volts` [V] between them, nearest on each side (above, below)."""
    known = [look for look in looks if VOLTS in look.channels]
    above = [look for look in known if look.channels[VOLTS].mean >= volts]
    below = [look for look in known if look.channels[VOLTS].mean < volts]
    if not above or not below:
        return None
    return (
        min(above, key=lambda look: look.channels[VOLTS].mean),
        max(below, key=lambda look: look.channels[VOLTS].mean),
    )


def nearest_alone(looks: Iterable[HoldLook], volts: float) -> HoldLook:
    """The look whose voltage is nearest to `volts` [V]."""

    def off(look: HoldLook) -> float:
        return abs(look.channels[VOLTS].mean - volts) if VOLTS in look.channels else math.inf

    return min(looks, key=off)


def interpolated(one: HoldLook, other: HoldLook, volts: float) -> HoldLook:
    """Both sides of the test voltage, put together on the straight line between them.

    The doubt of each side is weighed by its nearness. To it comes how far the true current may be
    from the line: above the voltage of its regulator a unit gives less than it can, so between a
    setting that leaves it there and one that does not, the line lies too low, by at most what is
    left to the current on the far side (a rectangle). `volts` must lie between the two.
    """
    low, high = one.channels[VOLTS].mean, other.channels[VOLTS].mean
    if not min(low, high) <= volts <= max(low, high):
        raise ValueError(f"{volts:g} V is not between {low:g} V and {high:g} V")
    share = 0.5 if high == low else (volts - low) / (high - low)
    channels = {
        name: _mixed(look, other.channels[name], share, bent=name == AMPS)
        for name, look in one.channels.items()
        if name in other.channels
    }
    worst = "no" if "no" in (one.taken, other.taken) else other.taken
    return replace(other, channels=channels, taken=worst)


def _mixed(one: ChannelLook, other: ChannelLook, share: float, *, bent: bool) -> ChannelLook:
    mean = one.mean + share * (other.mean - one.mean)
    bend = 0.0
    if bent:
        too_low = max(max(one.mean, other.mean) - mean, 0.0) / math.sqrt(3.0)
        bend = math.hypot(BEND * abs(other.mean - one.mean), too_low)
    return replace(
        other,
        mean=mean,
        u=math.hypot((1 - share) * one.u, share * other.u, bend),
        dof=min(one.dof, other.dof),
        readings=one.readings + other.readings,
        unsteady=one.unsteady or other.unsteady,
    )
