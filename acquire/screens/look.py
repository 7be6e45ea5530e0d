"""How the screens are to look on this terminal: signs, colours, mouse."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass, replace

from acquire.screens.raster import Glyphs

_DRAWS = frozenset({"WT_SESSION", "TERM_PROGRAM", "ConEmuPID", "WEZTERM_PANE", "ALACRITTY_LOG"})
"""Terminals of Windows that find every sign in some font say so in one of these variables."""

_BY_PYTHON = ("C.UTF-8", "C.utf8", "UTF-8")


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
    no_unicode = not encoding.startswith("utf") or _locale_without_unicode()
    return os.environ.get("TERM") == "linux" or no_unicode


def _locale_without_unicode() -> bool:
    """The locale says so itself: Python writes UTF-8 even where it is `C` (PEP 538 and PEP 540).

    For `LANG=C` Python sets LC_CTYPE to C.UTF-8 of its own accord, so that one says nothing.
    """
    if sys.platform == "win32":
        return False
    told = {name: os.environ.get(name, "") for name in ("LC_ALL", "LC_CTYPE", "LANG")}
    if told["LC_CTYPE"] in _BY_PYTHON and told["LANG"] in ("C", "POSIX"):
        told["LC_CTYPE"] = ""
    locale = next((words for words in told.values() if words), "")
    return bool(locale) and "utf" not in locale.lower()


def _light_paper() -> bool:
    """Some terminals tell the colours of ink and paper: `15;0` is light on dark."""
    paper = os.environ.get("COLORFGBG", "").rpartition(";")[2]
    return paper in ("7", "15")
