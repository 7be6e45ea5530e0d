"""What the guard says of a shaft that does not turn as its drive does, by what reads its speed."""

from __future__ import annotations

import re

from acquire.sweep.plan import SpeedSource

_READS = {
    "shaft_rpm": "the shaft reads",
    "w_hz": "the W terminal shows",
    "engine_rpm": "the engine speed gives",
}
_STALLED = {
    "shaft_rpm": "belt off, shaft blocked, or the tachometer sees nothing",
    "w_hz": "unit not excited (lamp, ignition feed, brushes), belt off, or shaft blocked",
    "engine_rpm": "motor blocked, or its tachometer sees nothing",
}
_DISAGREE = {
    "shaft_rpm": "Shaft and drive",
    "w_hz": "W terminal and drive",
    "engine_rpm": "Engine speed and drive",
}
_SLIPPED = {
    "shaft_rpm": "belt slipping, wrong pulley in the rig file, or a tachometer that counts wrong",
    "w_hz": "belt slipping, wrong pulley in the rig file, or the unit has other pole pairs than its"
    " rated curve says",
    "engine_rpm": "motor overloaded, wrong drive settings in the rig file, or a tachometer that"
    " counts wrong; a belt that slips beyond it is not seen",
}

_NOT_PLAUSIBLE = re.compile(r"\S+ is not plausible \(\S+ to \S+\)")
LONGEST_REFUSAL = 100
"""So much of what was wrong with an answer is told; the journal has the rest and the bytes."""


def refused_words(channel: str, note: str) -> str:
    """Why the last answer was refused, as a sentence of its own; empty without a `note`."""
    found = _NOT_PLAUSIBLE.search(note)
    if found is not None:
        return (
            f" The last answer was refused: {found.group()}: look first at the wiring, and at scale"
            " and plausible in the rig file."
        )
    what = note.removeprefix(f"{channel}: ").split(". ")[0].rstrip(".")
    if len(what) > LONGEST_REFUSAL:
        what = f"{what[:LONGEST_REFUSAL].rstrip()} …"
    return f" The last answer was refused: {what}." if what else ""


def stall_words(
    source: SpeedSource, *, expected_rpm: float, shaft_rpm: float, read: bool = True
) -> str:
    """A shaft that stands still while the drive turns; speeds are shaft speeds [rpm].

    `read`: the drive's own output says that it turns; else it was told to.
    """
    turns = "turns" if read else "is told to turn"
    return (
        f"The drive {turns} (belt side {expected_rpm:.0f} rpm) but {_READS[source]}"
        f" {shaft_rpm:.0f} rpm: {_STALLED[source]}."
    )


def follow_words(*, set_rpm: float, shaft_rpm: float) -> str:
    """A shaft that does not do what its drive is told, where nothing tells what the drive does."""
    return (
        f"The shaft turns at {shaft_rpm:.0f} rpm where {set_rpm:.0f} rpm are set: drive overloaded,"
        " stopped or limited by its own settings, belt slipping or off, or the speed is read wrong."
    )


def slip_words(source: SpeedSource, *, slip_percent: float, allowed: str) -> str:
    """Shaft and drive apart; `allowed` says how much may be, and who says so.

    `slip_percent` is below 0 where the drive has the lower speed.
    """
    apart = f"{_DISAGREE[source]} disagree by {abs(slip_percent):.1f} %"
    lower = " Of the two speeds the drive's is the lower." if slip_percent < 0 else ""
    return f"{apart}{allowed}: {_SLIPPED[source]}.{lower}"
