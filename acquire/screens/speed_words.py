"""One speed of a table in a sign and a word: the same while a run is on and in its result."""

from __future__ import annotations

from acquire.judge.verdict_words import UNDECIDED_WORDS

_WORDS = {
    "pass": ("=", "above"),
    "fail": ("!", "below"),
    "undecided": ("~", "close"),
    "not measured": ("!", "missing"),
    "not judged": ("", ""),
}


def speed_word(outcome: str, why: str) -> tuple[str, str]:
    """Sign and word of a judged speed; `why` is the verdict's own word for what keeps it open."""
    sign, word = _WORDS.get(outcome, ("", outcome))
    return sign, UNDECIDED_WORDS.get(why, word) if outcome == "undecided" else word
