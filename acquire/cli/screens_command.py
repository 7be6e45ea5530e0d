"""`steadyamps` alone: the screens."""

from __future__ import annotations

from acquire.cli.exit_codes import Exit
from acquire.cli.voice import Voice


def open_screens(voice: Voice) -> int:
    """The screens are being built; until then say which commands do the work."""
    voice.talk("There are no screens yet. `steadyamps sweep --rig simulated --yes` runs a test;")
    voice.talk("`steadyamps --help` shows every command.")
    return Exit.USAGE
