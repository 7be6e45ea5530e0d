"""How each ink looks: a dark and a light palette of our own, data in Okabe-Ito hues.

Colours after M. Okabe and K. Ito, "Color Universal Design" (2008): distinct for all kinds of
colour vision. Nothing is told by colour alone; these only help the eye.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from rich.style import Style

from acquire.screens.rows import Bit, Ink

ORANGE, SKY, GREEN = "#e69f00", "#56b4e9", "#009e73"
BLUE, PURPLE = "#0072b2", "#cc79a7"


@dataclass(frozen=True)
class Palette:
    """Paper, and the look of every ink on it."""

    name: str
    paper: str
    text: str
    looks: dict[Ink, str]
    """Rich style text; what is missing looks like plain text."""

    def __hash__(self) -> int:
        return hash(self.name)


DARK = Palette(
    "steady-dark",
    paper="#11151b",
    text="#e8e3d8",
    looks={
        "plain": "#e8e3d8",
        "strong": "bold #fffaf0",
        "dim": "#9a968c",
        "key": "bold #f0e442",
        "act": "#e8e3d8",
        "good": "#2fc79b",
        "warn": f"bold {ORANGE}",
        "bad": "bold #ff7a3d",
        "rated": "#e8e3d8",
        "allowed": ORANGE,
        "measured": f"bold {SKY}",
        "before": PURPLE,
        "band": "#3d6a86",
        "hands": "bold #f0e442",
        "line": "#5d6068",
        "field": SKY,
        "picked": "reverse #e8e3d8",
    },
)

LIGHT = Palette(
    "steady-light",
    paper="#faf7ef",
    text="#22242a",
    looks={
        "plain": "#22242a",
        "strong": "bold #000000",
        "dim": "#67645c",
        "key": f"bold {BLUE}",
        "act": "#22242a",
        "good": "#00694c",
        "warn": "bold #8a5200",
        "bad": "bold #a83e00",
        "rated": "#22242a",
        "allowed": "#a86a00",
        "measured": f"bold {BLUE}",
        "before": "#9a3f72",
        "band": "#a9c8dc",
        "hands": "bold #8a2f00",
        "line": "#a9a598",
        "field": BLUE,
        "picked": "reverse #22242a",
    },
)
RED16, GREEN16, BLUE16, MAGENTA16 = "#aa0000", "#00aa00", "#0000aa", "#aa00aa"
GREY16, PALE16 = "#555555", "#aaaaaa"
LIGHT_16 = Palette(
    "steady-light-16",
    paper="#ffffff",
    text="#000000",
    looks={
        "plain": "#000000",
        "strong": "bold #000000",
        "dim": GREY16,
        "key": f"bold {BLUE16}",
        "act": "#000000",
        "good": GREEN16,
        "warn": MAGENTA16,
        "bad": f"bold {RED16}",
        "rated": "#000000",
        "allowed": MAGENTA16,
        "measured": f"bold {BLUE16}",
        "before": RED16,
        "band": PALE16,
        "hands": f"bold {RED16}",
        "line": GREY16,
        "field": BLUE16,
        "picked": "reverse #000000",
    },
)
"""Light paper on a terminal of sixteen colours, each of them as that terminal has it.

The hues above would become its yellow and cyan there, which nobody reads on white."""
PALETTES = {palette.name: palette for palette in (DARK, LIGHT, LIGHT_16)}


def palette_for(*, light: bool, sixteen: bool) -> Palette:
    """The palette for this paper; `sixteen`: the terminal has no more colours than that."""
    if not light:
        return DARK
    return LIGHT_16 if sixteen else LIGHT


@lru_cache(maxsize=2048)
def style_of(palette: Palette, ink: Ink, act: str = "") -> Style:
    """The terminal style of an ink; with an act, a click on it runs `screen.do(act)`."""
    style = Style.parse(palette.looks.get(ink, palette.text))
    if not act:
        return style
    return style + Style(meta={"@click": f"screen.do({act!r})"})


def style_of_bit(palette: Palette, bit: Bit) -> Style:
    """The terminal style of a piece of a row."""
    return style_of(palette, bit.ink, bit.act)
