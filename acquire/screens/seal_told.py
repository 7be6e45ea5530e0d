"""How a seal is told on a page: its sign, its words and their ink."""

from __future__ import annotations

from acquire.record.seal_words import SealWords
from acquire.screens.rows import Ink

SIGNS: dict[str, tuple[str, Ink]] = {"sound": ("=", "good"), "broken": ("!", "bad")}


def seal_told(seal: SealWords | None) -> tuple[str, str, Ink]:
    """(sign, words, ink); None is a seal that is being checked."""
    if seal is None:
        return ".", "being checked", "dim"
    sign, ink = SIGNS.get(seal.state, ("~", "warn"))
    return sign, seal.words, ink
