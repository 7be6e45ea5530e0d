"""Rows of a page: pieces of text, each with an ink and perhaps an act that a click stands for.

Pure text; nothing here knows a terminal. Layouts are functions from facts to rows.
"""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from rich.cells import cell_len, set_cell_size

from profiles.plain_text import visible

Ink = Literal[
    "plain", "strong", "dim", "key", "act", "good", "warn", "bad", "rated", "allowed",
    "measured", "before", "band", "hands", "line", "field", "picked",
]  # fmt: skip
"""What a piece means; the palette says how it looks."""


_DOUBT = re.compile(r"±([\d.]*)(?: (?= |$))?")
"""A doubt, with the first of two blanks after it: that makes room for the second sign."""


@dataclass(frozen=True, slots=True)
class Bit:
    """A piece of a row."""

    text: str
    ink: Ink = "plain"
    act: str = ""
    """The act that a click on it stands for."""


Row = tuple[Bit, ...]
EMPTY: Row = ()


def row(*pieces: str | tuple[str, Ink] | Bit | Row) -> Row:
    """Put pieces together: text, (text, ink), bits, or other rows."""
    out: list[Bit] = []
    for piece in pieces:
        if isinstance(piece, Bit):
            out.append(piece)
        elif isinstance(piece, str):
            out.append(Bit(piece))
        elif len(piece) == 2 and isinstance(piece[0], str):
            out.append(Bit(piece[0], piece[1]))
        else:
            out.extend(piece)
    return tuple(bit for bit in out if bit.text)


@lru_cache(maxsize=4096)
def cells(text: str) -> int:
    """Columns that a text takes on the terminal."""
    return cell_len(text)


def column(value: float | None, width: int, decimals: int = 1, *, sign: bool = False) -> str:
    """A figure for a column of a table, zero without a minus; blank where there is none."""
    return " " * width if value is None else f"{value:{'+' if sign else ''}z{width}.{decimals}f}"


def width_of(one: Row) -> int:
    """Columns that a row takes."""
    return sum(cells(bit.text) for bit in one)


def clean(one: Row) -> Row:
    """The row with control characters made visible: nothing written may steer the terminal."""
    if all(bit.text.isprintable() for bit in one):
        return one
    return tuple(
        bit if bit.text.isprintable() else Bit(visible(bit.text), bit.ink, bit.act) for bit in one
    )


def in_plain_signs(one: Row) -> Row:
    """The row in the signs of ASCII alone, for terminals that have no others."""
    if all(bit.text.isascii() for bit in one):
        return one
    return tuple(Bit(plain_text(bit.text), bit.ink, bit.act) for bit in one)


@lru_cache(maxsize=1024)
def plain_text(text: str) -> str:
    """`47.1 ±0.5   61 °C` as `47.1 +-0.5  61  C`: columns stay where they are."""
    text = _DOUBT.sub(r"+-\1", text).replace("°C", " C").replace("·", "-")
    apart = unicodedata.normalize("NFKD", text)
    kept = "".join(sign for sign in apart if not unicodedata.combining(sign))
    return kept.encode("ascii", "replace").decode("ascii")


def text_of(one: Row) -> str:
    """The row without its inks."""
    return "".join(bit.text for bit in one)


def cut(one: Row, width: int) -> Row:
    """The row, no wider than `width`; what is cut off ends in a tilde-like mark."""
    if width_of(one) <= width:
        return one
    out: list[Bit] = []
    left = max(width - 1, 0)
    for bit in one:
        size = cells(bit.text)
        if size > left:
            out.append(Bit(set_cell_size(bit.text, left), bit.ink, bit.act))
            break
        out.append(bit)
        left -= size
    return (*out, Bit(">", "dim")) if width > 0 else ()


def tail(text: str, width: int) -> str:
    """The end of a text, no wider than `width`: where one types."""
    first = len(text)
    while first > 0 and cells(text[first - 1 :]) <= width:
        first -= 1
    return text[first:]


def fit(one: Row, width: int) -> Row:
    """The row exactly `width` wide."""
    short = cut(one, width)
    gap = width - width_of(short)
    return (*short, Bit(" " * gap)) if gap > 0 else short


def beside(
    left: Sequence[Row], right: Sequence[Row], *, left_width: int, gap: int = 2
) -> list[Row]:
    """Two blocks side by side, as high as the higher one."""
    height = max(len(left), len(right))
    padded_left = [*left, *([EMPTY] * (height - len(left)))]
    padded_right = [*right, *([EMPTY] * (height - len(right)))]
    space = Bit(" " * gap)
    return [
        (*fit(one, left_width), space, *other) if other else one
        for one, other in zip(padded_left, padded_right, strict=True)
    ]


def spread(left: Row, right: Row, width: int) -> Row:
    """`left` at the left edge and `right` at the right edge; the left one gives way."""
    room = width - width_of(right)
    if not right:
        return cut(left, width)
    return (*fit(left, max(room - 1, 0)), Bit(" "), *right) if room > 0 else cut(right, width)


def wrapped(text: str, width: int, ink: Ink = "plain", *, hang: int = 0) -> list[Row]:
    """A text broken into rows; further rows hang `hang` columns in."""
    if width < 8:
        return [row((text, ink))]
    lines = textwrap.wrap(text, width, subsequent_indent=" " * hang, break_long_words=True)
    return [row((line, ink)) for line in lines]


def offer(words: str, act: str, *, on: bool = True) -> Row:
    """An action as a word with its letter set off: `offer("[b]egin", "begin")`."""
    head, _, rest = words.partition("[")
    key, _, tail = rest.partition("]")
    if not on:
        return row((f"{head}{key}{tail}", "dim"))
    return (
        *((Bit(head, "act", act),) if head else ()),
        Bit(f"[{key}]", "key", act),
        *((Bit(tail, "act", act),) if tail else ()),
    )


def stop_offer() -> Row:
    """The stop, wherever a run is on: the same words and the same key everywhere."""
    return (Bit("[space]", "key", "stop"), Bit(" STOP", "bad", "stop"))


def strip_of(offers: Iterable[Row], *, gap: int = 3) -> Row:
    """Offers in one row."""
    out: list[Bit] = []
    for one in offers:
        if out:
            out.append(Bit(" " * gap))
        out.extend(one)
    return tuple(out)


def strips_of(offers: Sequence[Row], width: int, *, gap: int = 3) -> list[Row]:
    """Offers in as many rows as they need."""
    rows: list[list[Row]] = [[]]
    for one in offers:
        if rows[-1] and width_of(strip_of([*rows[-1], one], gap=gap)) > width:
            rows.append([])
        rows[-1].append(one)
    return [strip_of(some, gap=gap) for some in rows]


def scrolled(rows: Sequence[Row], height: int, first: int) -> list[Row]:
    """The part of `rows` that fits, from row `first` on."""
    first = max(0, min(first, len(rows) - height))
    return list(rows[first : first + height])
