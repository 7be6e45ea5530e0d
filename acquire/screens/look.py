"""How the screens are to look on this terminal: signs, colours, mouse."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass, replace

from acquire.screens.raster import Glyphs

_DRAWS = frozenset({"WT_SESSION", "TERM_PROGRAM", "ConEmuPID", "WEZTERM_PANE", "ALACRITTY_LOG"})
"""Terminals of Windows that find every sign in some font say so in one of these variables."""


@dataclass(frozen=True, slots=True)
class Look:
    """What this terminal can show."""

    ascii: bool = False
    """Only plain letters and signs."""
    light: bool = False
    mouse: bool = True

    @property
    def dots(self) -> Glyphs:
        """The signs of the chart."""
        return "ascii" if self.ascii else "dots"

    def other_light(self) -> Look:
        """Dark for light and light for dark."""
        return replace(self, light=not self.light)


def look_of_terminal(
    *, glyphs: str | None = None, light: bool | None = None, mouse: bool = True
) -> Look:
    """What was asked for, else what the terminal's own settings say."""
    return Look(
        ascii=_plain_signs() if glyphs is None else glyphs == "ascii",
        light=_light_paper() if light is None else light,
        mouse=mouse,
    )


def _plain_signs() -> bool:
    """A Linux console, the old console of Windows, a locale without Unicode: no dots to draw."""
    if sys.platform == "win32" and not _DRAWS.intersection(os.environ):
        return True
    encoding = (getattr(sys.stderr, "encoding", "") or "").lower().replace("-", "")
    return os.environ.get("TERM") == "linux" or not encoding.startswith("utf")


def _light_paper() -> bool:
    """Some terminals tell the colours of ink and paper: `15;0` is light on dark."""
    paper = os.environ.get("COLORFGBG", "").rpartition(";")[2]
    return paper in ("7", "15")
