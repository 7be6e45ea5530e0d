"""When a value is too old to be shown, or decided upon, as if it were live."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from drivers.readings import Reading
from profiles.channels import CHANNELS
from profiles.rig import Rig

if TYPE_CHECKING:
    from acquire.bench import Bench

FRESH_S = 1.5
"""A value is live for so long [s]; a pump that is held up for a moment makes nothing stale."""
MISSED = 3
"""Of an instrument that talks seldom so many readings may be missed."""
EVERY_S = 0.1
"""How often a channel is read where nothing else is said, as in the rig's profile [s]."""


def fresh_for_s(rig: Rig, channel: str) -> float:
    """How long a reading of this channel stays live [s]."""
    read = (one for name, one in rig.channels.items() if name == channel)
    return fresh_s(float(getattr(next(read, None), "every_s", EVERY_S)))


def fresh_s(every_s: float) -> float:
    """The same, for a channel that is read every so many seconds [s]."""
    return max(FRESH_S, MISSED * every_s)


def is_live(rig: Rig, reading: Reading | None, now_s: float) -> bool:
    """True while a reading may be shown as what is so now; what is typed stays until the next."""
    if reading is None or not reading.usable or reading.value is None:
        return False
    typed = any(name == reading.channel and one.driver == "hand"
                for name, one in rig.channels.items())  # fmt: skip
    return typed or now_s - reading.t_s <= fresh_for_s(rig, reading.channel)


def quiet_words(bench: Bench, rig: Rig) -> str:
    """Which instrument is lost and when that stops the rig; empty where none is."""
    channel, quiet_s = bench.quiet()
    if not channel:
        return ""
    return quiet_sentence(rig, channel, quiet_s=quiet_s, stops_after_s=bench.guard.silent_s)


def quiet_sentence(rig: Rig, channel: str, *, quiet_s: float, stops_after_s: float) -> str:
    """`No reading of the shaft speed; the rig is stopped in 4 s.`; empty while it is fresh."""
    if quiet_s <= fresh_for_s(rig, channel):
        return ""
    left_s = max(math.ceil(stops_after_s - quiet_s), 0)
    when = f"in {left_s} s" if left_s else "now"
    return f"No reading of the {CHANNELS[channel].words}; the rig is stopped {when}."
