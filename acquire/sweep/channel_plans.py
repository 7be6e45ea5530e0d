"""What each channel must do before a step is taken, from the method and the instruments."""

from __future__ import annotations

from acquire.settle.tolerance import ChannelPlan
from profiles.drive import LoadHand
from profiles.instrument import AnyChannel
from profiles.method import Method
from profiles.rig import Rig

HELD = ("shaft_rpm", "amps", "volts")
"""Channels that must hold still; the others are averaged over the same time."""
SPEED_SOURCES = ("shaft_rpm", "w_hz", "engine_rpm", "drive_rpm")


def typed_channels(rig: Rig, *, speed_source: str) -> frozenset[str]:
    """Channels whose readings are typed by the operator, the speed source as `shaft_rpm`."""
    typed = [name for name, channel in rig.channels.items() if channel.driver == "hand"]
    return frozenset("shaft_rpm" if name == speed_source else name for name in typed)


def channel_plans(
    rig: Rig, method: Method, *, speed_source: str, ratio: float
) -> dict[str, ChannelPlan]:
    """One plan for each channel, the speed source under the name `shaft_rpm`."""
    plans: dict[str, ChannelPlan] = {}
    for name, channel in rig.channels.items():
        if name == speed_source:
            plans["shaft_rpm"] = _plan("shaft_rpm", channel, rig, method, ratio=ratio)
        elif name not in SPEED_SOURCES:
            plans[name] = _plan(name, channel, rig, method)
        elif channel.driver != "hand":
            plans[name] = ChannelPlan(must_hold=False)  # another speed: compared, never waited for
    if "shaft_rpm" not in plans:  # the drive's own output is the speed source
        plans["shaft_rpm"] = ChannelPlan(
            method.settle.rpm_percent / 100, method.settle.rpm_at_least, 0.0
        )
    if speed_source != "drive_rpm" and rig.drive is not None and rig.drive.output is not None:
        plans["drive_rpm"] = ChannelPlan(must_hold=False)
    return plans


def _plan(
    name: str, channel: AnyChannel, rig: Rig, method: Method, *, ratio: float = 1.0
) -> ChannelPlan:
    """A voltage set by hand need not hold still: it must stay in its band, and is averaged."""
    settle = method.settle
    relative, absolute = {
        "shaft_rpm": (settle.rpm_percent / 100, settle.rpm_at_least),
        "amps": (settle.amps_percent / 100, settle.amps_at_least),
        "volts": (settle.volts_percent / 100, settle.volts_at_least),
    }.get(name, (0.0, 0.0))
    accuracy = channel.accuracy
    resolution = accuracy.resolution if accuracy and accuracy.resolution else 0.0
    return ChannelPlan(
        relative=relative,
        absolute=absolute,
        resolution=resolution * ratio,
        must_hold=name in HELD and not (name == "volts" and isinstance(rig.load, LoadHand)),
    )
