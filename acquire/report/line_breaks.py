"""Where a line may break, the same for HTML and PDF: never in `0.3 A`, always within 5,000 letters.

What people type may have no space at all, and a number parted from its unit is read wrongly.
"""

from __future__ import annotations

import re

NO_BREAK = "\u00a0"
MAY_BREAK = "\u200b"
"""Seen by nobody; a line may end there."""
LONGEST_WORD = 30
"""Letters in a row without a place to break; words of the trade, also German ones, are shorter."""
_EVERY = 6
_UNBROKEN = re.compile(rf"[^\s\u200b-]{{{LONGEST_WORD + 1},}}")
_UNITS = r"%|A|V|W|kW|Nm|N·m|Ω|kΩ|MΩ|Hz|rpm|min⁻¹|°C|K|s|min|h|mm|kB"
_TIED = re.compile(rf"(?<=\d) (?=(?:{_UNITS})(?![\w/]))|(?<=[<>]) (?=\d)|(?<=\d) (?=±)")


def with_breaks(text: str) -> str:
    """The text with its figures held together, and places to break in very long words."""
    tied = _TIED.sub(NO_BREAK, text)
    return _UNBROKEN.sub(_broken, tied)


def _broken(found: re.Match[str]) -> str:
    run = found[0]
    return MAY_BREAK.join(run[k : k + _EVERY] for k in range(0, len(run), _EVERY))


def shortened(text: str, most: int) -> str:
    """One line of at most so many characters; what is cut off shows as `…`."""
    line = " ".join(text.split())
    return line if len(line) <= most else f"{line[: most - 1]}…"
