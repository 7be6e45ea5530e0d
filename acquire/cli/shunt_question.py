"""Which shunt: what the voltage over it is multiplied by to give amps, asked and never assumed."""

from __future__ import annotations

from typing import Any

from acquire.cli.interview import Interview
from profiles.catalogue import load_instrument

SHUNT_METER = "multimeter-on-shunt"
AMPS, MILLIVOLTS = 300.0, 60.0
"""The shunt of the shipped description."""
BEYOND = 1.1
"""So many times its amps may be read on a shunt, either way (our choice, no source)."""


def ask_shunt(asked: Interview, chosen: str) -> dict[str, Any]:
    """The keys of a channel that is read on a shunt; none for another instrument."""
    if chosen != SHUNT_METER:
        return {}
    asked.say("Both figures stand on the shunt, as in 300 A 60 mV; another one has another scale.")
    amps = _positive(asked, "Amps of the shunt", AMPS)
    millivolts = _positive(asked, "Millivolts it drops at these amps", MILLIVOLTS)
    keys = shunt_keys(amps, millivolts)
    asked.say(f"One millivolt is {keys['scale'] / 1000.0:g} A: scale = {keys['scale']:g}.")
    return keys


def _positive(asked: Interview, question: str, default: float) -> float:
    while True:
        value = asked.number(question, default=default)
        if value is not None and value > 0.0:
            return value
        asked.say("It must be more than 0.")


def shunt_keys(amps: float, millivolts: float) -> dict[str, Any]:
    """What a rig file says of a shunt that drops `millivolts` at `amps`.

    The meter stays the one of the description: what its accuracy says in amps goes with the scale.
    """
    usual = load_instrument(SHUNT_METER).profile.keys
    scale = 1000.0 * amps / millivolts
    keys: dict[str, Any] = {
        "scale": _short(scale),
        "plausible": [_short(-BEYOND * amps), _short(BEYOND * amps)],
    }
    factor = scale / usual["scale"]
    if abs(factor - 1.0) > 1e-9:
        stretched = {
            name: _short(usual["accuracy"][name] * factor) for name in ("range", "resolution")
        }
        keys["accuracy"] = {**usual["accuracy"], **stretched}
    return keys


def _short(value: float) -> float:
    return float(f"{value:.6g}")
