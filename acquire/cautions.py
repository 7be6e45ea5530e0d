"""The usual cautions, shown where they matter and accepted before anything turns.

Each names its source in `SOURCES`; they do not replace local codes and licensed practice.
"""

from __future__ import annotations

from acquire.sweep.plan import fed_by_hand, is_ignition
from profiles.alternator import RatedCurve
from profiles.rig import Rig

STOP = (
    "This program is no safety device. The emergency stop is hard-wired, within reach, and tried"
    " today."
)
GUARDS = "Guards over belt, pulleys and fan are closed. No loose clothing, rings or long hair."
CIRCUIT = (
    "Battery and load stay connected while it turns: never open either circuit, a load dump can"
    " exceed 100 V."
)
BATTERY = "Battery gas is explosive: ventilate, no flames or sparks, eye protection."
HOT = "The unit gets hot enough to burn, also after it stands still."
MOUNT = (
    "The unit sits on its own lugs, the pulley nut is tight, the direction of rotation is right."
)
ABOARD = (
    "Aboard: hands, tools and clothing clear of the engine's belts; ventilate the engine space."
)
PILE = "A carbon pile gets red hot: open it as soon as the program says so."
LOCAL = "Local codes and licensed practice come first."

NO_SOURCE = "common practice, no source"
"""What stands where the trade knows it and no publication was found."""
SOURCES = {
    CIRCUIT: "ISO 16750-2:2012, 4.6.4 (load dump 79 to 101 V at 12 V, 151 to 202 V at 24 V)",
    BATTERY: "29 CFR 1910.178(g); OSHA interpretation of 1976-01-26 (hydrogen, 4.1 %)",
    STOP: "ISO 13850 (emergency stop function)",
    GUARDS: NO_SOURCE,
    HOT: NO_SOURCE,
    MOUNT: NO_SOURCE,
    ABOARD: NO_SOURCE,
    PILE: NO_SOURCE,
    LOCAL: NO_SOURCE,
}


def cautions_for(rig: Rig) -> tuple[str, ...]:
    """What must be accepted before a test on this rig."""
    turning = (STOP, GUARDS) if rig.drive is not None else (GUARDS, ABOARD)
    pile = (PILE,) if rig.load is not None and rig.load.driver == "hand" else ()
    return (*turning, CIRCUIT, BATTERY, HOT, *pile, MOUNT, LOCAL)


MECHANICS = ("pulley nut tight", "belt guard closed")
ISOLATED = "isolated earth: return cable on the earth stud, the case is no return"


OFF_FIRST = "OFF until the program asks for it"
"""What feeds the field takes current at standstill; the zero is read without it."""


def wiring_for(rated: RatedCurve | None, rig: Rig | None = None) -> tuple[str, ...]:
    """What must be connected on this very unit, to be ticked before the drive turns."""
    feed = fed_by_hand(rig, rated) if rig is not None else ""
    needs: tuple[str, ...] = rated.needs if rated else ()
    if feed == "ignition":
        needs = tuple(f"{n}: {OFF_FIRST}" if is_ignition(n) else n for n in needs)
    elif feed:
        needs = (*needs, f"{feed} feed: {OFF_FIRST}")
    turns = rated.turns if rated else "either"
    fixed = [*MECHANICS, "B+ and earth cables tight", "battery charged, in parallel"]
    if turns in ("cw", "ccw"):
        way = "clockwise" if turns == "cw" else "anticlockwise"
        fixed.append(f"turns {way} (drive end)")
    if rated is not None and rated.isolated_earth:
        fixed.append(ISOLATED)
    return (*fixed, *needs)
