"""Text of people's files and instruments made fit to be shown: visible, short, with near words."""

from __future__ import annotations

import difflib
import unicodedata
from collections.abc import Iterable

LONGEST_SHOWN = 60
"""Characters of a value that are repeated in a message; the rest becomes an ellipsis."""


def visible(text: str) -> str:
    r"""Show every control, format and line-separating character as an escape such as `\x1b`.

    Nothing that stands in a file or arrives on a wire may steer a terminal or turn text around.
    """
    return "".join(_visible_character(character) for character in text)


def visible_lines(text: str) -> str:
    """The same for text of several lines, whose ends stay."""
    lines = text.split("\n")
    return "\n".join(line if line.isprintable() else visible(line) for line in lines)


def _visible_character(character: str) -> str:
    category = unicodedata.category(character)
    if category not in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}:
        return character
    return character.encode("unicode_escape", "surrogatepass").decode("ascii")


def shown(value: object) -> str:
    """Repeat a value of a TOML file in a message: visible, short, text in quotation marks."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, str):
        return f'"{_short(visible(value))}"'
    if isinstance(value, int) and abs(value) >= 10**18:
        return "a number with very many digits"
    try:
        return _short(visible(str(value)))
    except ValueError:  # a list with a number of thousands of digits
        return "a list with a number of very many digits"


def _short(text: str) -> str:
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 1] + "…"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Give the known word that looks most like `word`, or None when none comes near."""
    folded = {name.casefold(): name for name in known}
    near = difflib.get_close_matches(word[:80].casefold(), folded, n=1, cutoff=0.6)
    return folded[near[0]] if near else None


def near_names(word: str, known: Iterable[str], *, at_most: int = 3) -> list[str]:
    """Give up to `at_most` known words that look like `word`, the likest first."""
    folded = {name.casefold(): name for name in known}
    matches = difflib.get_close_matches(word[:80].casefold(), folded, n=at_most, cutoff=0.5)
    return [folded[match] for match in matches]


def listed(words: Iterable[str], *, joint: str = "or") -> str:
    """Join words as in `a, b or c`."""
    *first, last = list(words) or ["nothing"]
    return f"{', '.join(first)} {joint} {last}" if first else last
