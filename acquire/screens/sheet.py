"""The one widget that paints rows, and repaints only the columns of rows that changed.

The toolkit does not compare inside a refreshed region; over a slow line that is what counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from rich.cells import get_character_cell_size
from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from acquire.screens.inks import DARK, PALETTES, Palette, style_of_bit
from acquire.screens.rows import EMPTY, Bit, Row, clean, fit


class Sheet(Widget):
    """Shows rows of text, as many as fit."""

    DEFAULT_CSS = "Sheet { width: 1fr; height: 1fr; background: $background; }"

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - the toolkit's own name
        super().__init__(id=id)
        self._rows: list[Row] = []
        self._painted: Palette | None = None

    @property
    def rows(self) -> list[Row]:
        """What is shown."""
        return self._rows

    def show(self, rows: Sequence[Row]) -> None:
        """Show other rows; only what differs is sent to the terminal."""
        width, height = self.size
        before, self._rows = self._rows, [clean(one) for one in rows[: max(height, 1)]]
        palette = self._palette()
        if self._painted is not palette:
            self._painted = palette
            self.refresh()
            return
        regions = []
        for y in range(max(len(before), len(self._rows))):
            old = before[y] if y < len(before) else EMPTY
            new = self._rows[y] if y < len(self._rows) else EMPTY
            span = changed_columns(old, new, width)
            if span is not None:
                regions.append(Region(span[0], y, span[1] - span[0], 1))
        if regions:
            self.refresh(*regions)

    def _palette(self) -> Palette:
        return PALETTES.get(self.app.theme, DARK)

    def render_line(self, y: int) -> Strip:
        """Give one painted row to the toolkit."""
        width = self.size.width
        if y >= len(self._rows):
            return Strip.blank(width, self.rich_style)
        return painted(self._rows[y], width, self._palette(), self.rich_style)


@lru_cache(maxsize=512)
def painted(one: Row, width: int, palette: Palette, base: Style) -> Strip:
    """A row as the toolkit wants it, padded or cut to `width`."""
    bits = joined(fit(one, width))
    return Strip([Segment(bit.text, base + style_of_bit(palette, bit)) for bit in bits], width)


def joined(one: Row) -> Row:
    """The row in as few pieces as look the same: each piece costs some forty bytes of colour.

    A blank looks the same in every ink but the picked one; what can be clicked stays as it is.
    """
    out: list[Bit] = []
    for bit in one:
        last = out[-1] if out else None
        if last is None or last.act or bit.act or "picked" in (last.ink, bit.ink):
            out.append(bit)
        elif bit.ink == last.ink or bit.text.isspace():
            out[-1] = Bit(last.text + bit.text, last.ink)
        elif last.text.isspace():
            out[-1] = Bit(last.text + bit.text, bit.ink)
        else:
            out.append(bit)
    return tuple(out)


def changed_columns(old: Row, new: Row, width: int) -> tuple[int, int] | None:
    """First and one past the last column that differ; None when none do."""
    if old == new:
        return None
    before, after = _columns(old, width), _columns(new, width)
    first = next((n for n in range(width) if before[n] != after[n]), None)
    if first is None:
        return None
    last = next(n for n in range(width - 1, -1, -1) if before[n] != after[n])
    return first, last + 1


def _columns(one: Row, width: int) -> list[tuple[str, str, str]]:
    out: list[tuple[str, str, str]] = []
    for bit in fit(one, width):
        out.extend(_of_bit(bit))
    return out


@lru_cache(maxsize=4096)
def _of_bit(bit: Bit) -> tuple[tuple[str, str, str], ...]:
    ink = "" if bit.text.isspace() and bit.ink != "picked" else bit.ink
    out: list[tuple[str, str, str]] = []
    for sign in bit.text:
        out.append((sign, ink, bit.act))
        out.extend([("", ink, bit.act)] * (get_character_cell_size(sign) - 1))
    return tuple(out)
