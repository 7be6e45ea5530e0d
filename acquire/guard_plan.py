"""What the guard of a rig watches, and which file says so."""

from __future__ import annotations

from pathlib import Path

from acquire.guard import GuardPlan
from acquire.sweep.plan import SweepPlan
from profiles.rig import Limits, Rig

OVERSPEED = 1.03
"""The guard trips at this multiple of the speed that rig and unit may run (a choice)."""
LIMITED = {
    "volts": "volts_max",
    "battery_volts": "battery_volts_max",
    "amps": "amps_max",
    "field_amps": "field_amps_max",
    "field_volts": "field_volts_max",
    "ripple_volts": "ripple_volts_max",
    "case_c": "case_c_max",
    "ambient_c": "ambient_c_max",
    "torque_nm": "torque_nm_max",
}
"""Channel -> the key of the table [limits]."""


def guard_plan(
    rig: Rig,
    plan: SweepPlan,
    *,
    rated_max_rpm: float | None,
    rig_file: Path | None = None,
    rated_file: Path | None = None,
) -> GuardPlan:
    """What is watched; `rated_max_rpm` is what the unit may run [rpm at the shaft].

    The files are named in the messages; a profile without one is named by its title.
    """
    of_rig = rig_file.name if rig_file is not None else f"rig '{rig.title}'"
    of_unit = rated_file.name if rated_file is not None else "the rated curve"
    highest, set_by = _limits(rig.limits, of_rig)
    fastest = _overspeed(rig.rig.max_shaft_rpm, of_rig, rated_max_rpm, of_unit)
    if fastest is not None:
        # a step may be held at the ceiling itself, so the guard stands a little above it
        highest[plan.speed_source] = round(OVERSPEED * fastest[0] / plan.speed_ratio, 1)
        set_by[plan.speed_source] = f"{OVERSPEED:g} x {fastest[1]}"
    return GuardPlan(
        highest=highest,
        watched=_watched(rig, plan, frozenset(highest)),
        silent_s=rig.limits.silent_s,
        slip_percent_max=rig.limits.slip_percent_max,
        speed_ratio=rig.ratio,
        reads_drive=rig.drive is None or drive_is_read(rig),
        # a typed speed is that of a moment: it says nothing of a shaft that has moved on
        speed_source=plan.speed_source if plan.speed_source in _talking(rig) else "drive_rpm",
        shaft_per_source=plan.speed_ratio,
        load_on_s_max=plan.hand_load.max_on_s if plan.hand_load else None,
        where={place.removeprefix("channels."): wire.address for place, wire in rig.wires()},
        set_by={
            **set_by,
            "silent_s": f"limits.silent_s, {of_rig}",
            "slip_percent_max": f"limits.slip_percent_max, {of_rig}",
            "load_on_s_max": f"load.max_on_s, {of_rig}",
        },
    )


def _limits(limits: Limits, of_rig: str) -> tuple[dict[str, float], dict[str, str]]:
    """(channel -> highest value, channel -> who says so)."""
    known = {channel: getattr(limits, key) for channel, key in LIMITED.items()}
    highest = {channel: float(most) for channel, most in known.items() if most is not None}
    return highest, {channel: f"limits.{LIMITED[channel]}, {of_rig}" for channel in highest}


def _overspeed(
    rig_rpm: float | None, of_rig: str, unit_rpm: float | None, of_unit: str
) -> tuple[float, str] | None:
    """The lower ceiling of rig and unit [rpm at the shaft], and who says so."""
    known = [
        (rpm, words)
        for rpm, words in (
            (rig_rpm, f"rig.max_shaft_rpm, {of_rig}"),
            (unit_rpm, f"alternator.max_shaft_rpm, {of_unit}"),
        )
        if rpm is not None
    ]
    return min(known, key=lambda pair: pair[0], default=None)


def drive_is_read(rig: Rig) -> bool:
    """True where the drive's own output is a channel of the rig."""
    channel = rig.channels.get("drive_rpm")
    by_itself = rig.drive is not None and rig.drive.output is not None
    return by_itself or (channel is not None and channel.driver != "hand")


def _talking(rig: Rig) -> set[str]:
    """Channels that an instrument reads, not a person."""
    return {name for name, channel in rig.channels.items() if channel.driver != "hand"}


def _watched(rig: Rig, plan: SweepPlan, limited: frozenset[str]) -> frozenset[str]:
    """Channels that talk and without which the run is blind.

    Without a drive a speed that falls silent stops nothing: the hand is told of it, and waits.
    """
    watched = _talking(rig) & ({plan.speed_source, "drive_rpm", "amps", "volts"} | limited)
    if rig.drive is not None and rig.drive.output is not None:
        watched.add("drive_rpm")
    if rig.drive is None:
        watched -= {plan.speed_source, "drive_rpm"}
    return frozenset(watched)
