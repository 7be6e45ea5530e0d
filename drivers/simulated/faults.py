"""Faults by name, and from when on: `open-diode`, `worn-brush@30`, `late-answers-volts@20`."""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from drivers.simulated.sensors import SENSORS
from profiles.errors import Problem, ProfileError
from profiles.plain_text import visible

UNIT_FAULTS: dict[str, str] = {
    "not-excited": "no current reaches the field: lamp circuit or brushes open",
    "open-diode": "one diode of the six is open",
    "two-open-diodes": "two diodes of the same polarity are open",
    "open-phase": "one phase does not reach the bridge",
    "uneven-phase": "one phase has a tenth of its turns missing",
    "worn-brush": "a brush lifts now and then",
    "weak-field": "the field's resistance is more than twice what it should be",
    "shorted-turns": "turns of the rotor are shorted: less flux, more field current",
    "regulator-low": "the regulator holds 1.5 V too little (3 V on 24 V)",
}
"""What can be wrong with the unit, in words."""

RIG_FAULTS: dict[str, str] = {
    "slipping-belt": "the belt has lost two thirds of its grip",
    "cable-drop": "a bad joint in the charging cable",
    "clamp-zero-off": "the current clamp was not zeroed",
    "drive-ignores-stop": "the drive acknowledges a stop and turns on",
}
"""What can be wrong with the rig, in words."""

WIRE_FAULTS: dict[str, tuple[str, str]] = {
    "sensor-unplugged": ("amps", "the instrument's cable is out"),
    "frozen-value": ("amps", "the instrument repeats one value"),
    "garbage": ("shaft_rpm", "nonsense among the answers"),
    "late-answer": ("volts", "one answer comes seconds late"),
    "late-answers": ("volts", "every answer comes seconds late"),
}
"""What can be wrong on a wire: the channel meant when none is named, and words. A channel may be
added to the name: `frozen-value-case-c`."""


@dataclass(frozen=True, slots=True)
class TimedFault:
    """A fault and when it begins [s on the rig]; `channel` for faults of a wire, else empty."""

    name: str
    at_s: float = 0.0
    channel: str = ""


def fault_names() -> dict[str, str]:
    """Every name that can be given, with words for it; a wire's faults without their channels."""
    return UNIT_FAULTS | RIG_FAULTS | {name: words for name, (_, words) in WIRE_FAULTS.items()}


def read_faults(text: str | None) -> tuple[TimedFault, ...]:
    """Read `NAME[@S]`, several parted by commas; spaces and underscores count as hyphens.

    Raises:
        ProfileError: If a name is not known, or a time is not a number of seconds.
    """
    parts = [part.strip() for part in (text or "").split(",")]
    return tuple(_read_one(part) for part in parts if part)


def _read_one(text: str) -> TimedFault:
    name, _, when = text.partition("@")
    name = "-".join(name.strip().lower().replace("_", " ").replace("-", " ").split())
    return _named(name, _seconds(text, when))


def _seconds(text: str, when: str) -> float:
    try:
        at_s = float(when or 0.0)
    except ValueError:
        at_s = -1.0
    if not 0.0 <= at_s < 1e9:
        raise _wrong(
            f"'{visible(text[:60])}': '{visible(when[:60])}' is not a number of seconds.",
            "Write NAME@30.",
        )
    return at_s


def _named(name: str, at_s: float) -> TimedFault:
    if name in UNIT_FAULTS or name in RIG_FAULTS:
        return TimedFault(name, at_s)
    for wire in sorted(WIRE_FAULTS, key=len, reverse=True):
        channel = name.removeprefix(wire).removeprefix("-").replace("-", "_")
        if name == wire:
            return TimedFault(wire, at_s, WIRE_FAULTS[wire][0])
        if name.startswith(f"{wire}-") and channel in SENSORS:
            return TimedFault(wire, at_s, channel)
    near = difflib.get_close_matches(name, fault_names(), n=1)
    hint = f"Did you mean '{near[0]}'?" if near else f"Known: {', '.join(sorted(fault_names()))}."
    if name.isdecimal():
        hint = "Write decimals of seconds with a point, as in NAME@2.5."
    raise _wrong(f"There is no simulated fault '{visible(name[:60])}'.", hint)


def _wrong(message: str, what_to_do: str) -> ProfileError:
    return ProfileError([Problem("simulated rig", "fault", message, what_to_do)])
