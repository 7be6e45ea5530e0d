"""Cells and lines of CSV (RFC 4180): numbers that read back exactly, text that cannot calculate."""

from __future__ import annotations

import math
import re

from profiles.plain_text import visible

LINE_END = b"\r\n"
"""RFC 4180, 2.1."""
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
_QUOTED = re.compile('[",\r\n]')
_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:e[-+]?[0-9]+)?")


def number_cell(value: float | None) -> str:
    """Write the shortest text that reads back to the same float; empty for None or not finite."""
    if value is None or not math.isfinite(value):
        return ""
    return repr(value if type(value) is int else float(value))


def number_of(cell: str) -> float | None:
    """Read a number cell; None when empty.

    Raises:
        ValueError: If it is no decimal number.
    """
    if not cell:
        return None
    if not _NUMBER.fullmatch(cell):
        raise ValueError(f"{visible(cell[:40])!r} is not a number")
    value = float(cell)
    if not math.isfinite(value):
        raise ValueError(f"{cell[:40]} is larger than any number that can be kept")
    return value


def text_cell(text: str) -> str:
    """Write text so that a spreadsheet shows it and never calculates with it.

    Control characters become visible; a first character that would begin a formula gets an
    apostrophe before it; quotation marks as in RFC 4180, 2.5 to 2.7.
    """
    marked = f"'{text}" if text.startswith(_FORMULA) else text
    shown = visible(marked)
    if _QUOTED.search(shown):
        return '"' + shown.replace('"', '""') + '"'
    return shown
