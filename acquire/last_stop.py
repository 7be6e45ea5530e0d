"""Did this rig stop by itself the last time? Who mounts the next unit should know."""

from __future__ import annotations

from itertools import islice
from pathlib import Path

from acquire.findings.not_stopped import DID_NOT_STOP
from acquire.readiness import Item
from acquire.shelf.by_folder import runs_by_folder
from profiles.rig import Rig

LOOKED_AT = 30
"""Of the newest runs of all rigs on the shelf: a rig not used for longer is looked at anyway."""
WHAT_TO_DO = "See the drive stop without a unit, and the emergency stop, before you mount one."


def last_stop_words(rig: Rig, shelf: Path) -> str:
    """A sentence without its end where the last run on this rig ended so; else empty."""
    simulated = rig.simulated is not None
    for run in islice(runs_by_folder(shelf), LOOKED_AT):
        if run.rig == rig.title and run.simulated is simulated:
            if DID_NOT_STOP not in run.findings:
                return ""
            return f"at the end of the last run it did not stop by itself ({run.run_id})"
    return ""


def last_stop_items(rig: Rig, shelf: Path) -> list[Item]:
    """The same as a line of the readiness list."""
    words = last_stop_words(rig, shelf)
    return [Item("last stop", "look", words, WHAT_TO_DO)] if words else []
