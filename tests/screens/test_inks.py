"""Every colour is legible on its paper, in 16 colours too, and none is needed to understand."""

from __future__ import annotations

from typing import get_args

import pytest
from rich.color import Color, ColorSystem
from rich.style import Style
from rich.terminal_theme import DEFAULT_TERMINAL_THEME

from acquire.screens.figures_facts import Figure
from acquire.screens.inks import DARK, LIGHT, LIGHT_16, Palette, palette_for, style_of
from acquire.screens.rows import Ink

READ = {"plain", "strong", "dim", "key", "act", "good", "warn", "bad", "hands", "field", "before",
        "measured"}  # fmt: skip


def luminance(color: Color) -> float:
    """Relative luminance (W3C, Web Content Accessibility Guidelines 2.1, section 5)."""
    parts = [channel / 255 for channel in color.get_truecolor(DEFAULT_TERMINAL_THEME)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(ink: Color, paper: Color) -> float:
    """Contrast ratio (same source)."""
    light, dark = sorted((luminance(ink), luminance(paper)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def colour_of(palette: Palette, ink: Ink) -> Color:
    color = style_of(palette, ink).color
    assert color is not None
    return color


@pytest.mark.parametrize("palette", [DARK, LIGHT], ids=["dark", "light"])
@pytest.mark.parametrize("ink", sorted(READ))
def test_what_is_read_has_enough_contrast(palette: Palette, ink: Ink) -> None:
    """At least 4.5 : 1 (level AA of the same guidelines, 1.4.3)."""
    assert contrast(colour_of(palette, ink), Color.parse(palette.paper)) >= 4.5


# Colours 0, 1, 2, 4, 5 and 8 as terminals have them: a PC in text mode (VGA), and xterm
# (XTerm-col.ad).
VGA = {0: "#000000", 1: "#aa0000", 2: "#00aa00", 4: "#0000aa", 5: "#aa00aa", 8: "#555555"}
XTERM = {0: "#000000", 1: "#cd0000", 2: "#00cd00", 4: "#0000ee", 5: "#cd00cd", 8: "#7f7f7f"}


@pytest.mark.parametrize("terminal", [VGA, XTERM], ids=["VGA", "xterm"])
@pytest.mark.parametrize("ink", sorted(READ | {"allowed", "rated"}))
def test_sixteen_colours_on_white_are_read(ink: Ink, terminal: dict[int, str]) -> None:
    """Neither yellow nor cyan, which stand against white with less than 2 : 1."""
    number = colour_of(LIGHT_16, ink).downgrade(ColorSystem.STANDARD).number
    assert number in terminal
    assert contrast(Color.parse(terminal[number]), Color.parse("#ffffff")) >= 2.0


def test_in_sixteen_colours_on_white_what_differs_looks_different() -> None:
    def seen(ink: Ink) -> tuple[int | None, bool]:
        number = colour_of(LIGHT_16, ink).downgrade(ColorSystem.STANDARD).number
        return number, bool(style_of(LIGHT_16, ink).bold)

    for several in (("good", "dim", "before"), ("good", "warn", "bad"),
                    ("rated", "allowed", "measured", "before")):  # fmt: skip
        assert len({seen(ink) for ink in several}) == len(several)


def test_a_terminal_of_sixteen_colours_gets_them_on_light_paper_alone() -> None:
    assert palette_for(light=True, sixteen=True) is LIGHT_16
    assert palette_for(light=True, sixteen=False) is LIGHT
    assert palette_for(light=False, sixteen=True) is DARK


@pytest.mark.parametrize("palette", [DARK, LIGHT], ids=["dark", "light"])
@pytest.mark.parametrize("ink", sorted(READ))
def test_in_sixteen_colours_nothing_falls_into_the_paper(palette: Palette, ink: Ink) -> None:
    """Reduced by the terminal library as it would for such a terminal."""
    reduced = colour_of(palette, ink).downgrade(ColorSystem.STANDARD)
    paper = Color.parse(palette.paper).downgrade(ColorSystem.STANDARD)
    assert contrast(reduced, paper) >= 2.5


@pytest.mark.parametrize("palette", [DARK, LIGHT, LIGHT_16], ids=lambda one: one.name)
def test_every_ink_has_a_look_and_no_look_blinks(palette: Palette) -> None:
    assert set(palette.looks) == set(get_args(Ink))
    for look in palette.looks.values():
        style = Style.parse(look)
        assert not style.blink
        assert style.bgcolor is None, "no coloured panels"


def test_an_act_can_be_clicked() -> None:
    assert style_of(DARK, "act", "begin").meta == {"@click": "screen.do('begin')"}


def test_a_figure_without_a_live_value_says_so() -> None:
    assert not Figure("amps", "output current", None, "A", "!", "stale 4 s").live
