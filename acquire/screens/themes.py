"""Our palettes as the toolkit wants them."""

from __future__ import annotations

from textual.theme import Theme

from acquire.screens.inks import DARK, Palette


def theme_of(palette: Palette) -> Theme:
    """The toolkit's theme for a palette."""
    return Theme(
        name=palette.name,
        primary=palette.text,
        foreground=palette.text,
        background=palette.paper,
        surface=palette.paper,
        panel=palette.paper,
        dark=palette is DARK,
    )
