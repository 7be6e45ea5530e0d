"""What the hands must do at this moment, with the seconds counted: on screens, in plain lines."""

from __future__ import annotations

import math

from acquire.sweep.commands import HandsOn
from acquire.sweep.feeding import Feeding
from acquire.sweep.hand_load import HandLoaded
from acquire.sweep.phases import Phase

PRESSING_S = 5.0
"""So long before a pile must be open its seconds carry a warning sign."""


def counted(phase: Phase, said: HandsOn | None, now_s: float) -> tuple[str, str]:
    """(large words, detail) of what was said last; what is waited for is counted down."""
    match phase:
        case HandLoaded(stage="light"):
            return kept_open(phase, now_s)
        case Feeding() if said is not None:
            left_s = max(math.ceil(phase.due_s - now_s), 0)
            return said.words, f"the zero is read; it turns in {left_s} s"
        case _:
            return (said.words, said.detail) if said is not None else ("", "")


def kept_open(phase: HandLoaded, now_s: float) -> tuple[str, str]:
    """Before the load is asked for the pile stays open: to cool, or until the speed is at rest."""
    left_s = phase.ready_s - now_s
    if left_s > 0.0:
        words = "LET THE PILE COOL" if phase.cools else "KEEP THE PILE OPEN"
        return words, f"{math.ceil(left_s)} s more"
    volts = f"until it stands above {phase.test_volts:.1f} V" if phase.test_volts else ""
    return "KEEP THE PILE OPEN", volts


def load_counted(
    *, on: bool | None, since_s: float, now_s: float, most_s: float | None
) -> tuple[str, float]:
    """(`load on 7 of 15 s`, seconds left) of a load that is good for a short time.

    Empty and infinite where it is off, or no time is stated.
    """
    if not on or most_s is None:
        return "", math.inf
    for_s = max(now_s - since_s, 0.0)
    return f"load on {for_s:.0f} of {most_s:.0f} s", most_s - for_s
