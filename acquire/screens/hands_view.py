"""What the hands must do, larger than what the program does."""

from __future__ import annotations

from acquire.screens.look import Look
from acquire.screens.numerals import Glyphs, large
from acquire.screens.rows import Row, fit, row, width_of, wrapped

EDGE = " "
HIGH = 38
"""From so many rows on there is room for the largest letters."""


def hands_rows(hands: str, detail: str, width: int, height: int, look: Look) -> list[Row]:
    """The words as large as the window allows, and a detail beside or below them."""
    if not hands:
        return []
    glyphs: Glyphs = "ascii" if look.ascii else "full"
    signs = large(hands, "five", glyphs) if height >= HIGH else ()
    if not signs or len(signs[0]) + 2 > width:
        signs = large(hands, "three", glyphs)
    if len(signs[0]) + 2 > width:
        signs = (f">>> {hands} <<<",)
    lines = [row(EDGE, (line, "hands")) for line in signs]
    middle = len(lines) // 2
    if detail and width_of(lines[-1]) + len(detail) + 3 <= width:
        lines[middle] = row(fit(lines[middle], width_of(lines[0])), f"   {detail}")
    elif detail:
        lines += [row(EDGE, line) for line in wrapped(detail, width - 2, "hands")]
    return lines
