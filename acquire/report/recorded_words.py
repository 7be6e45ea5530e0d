"""Sentences of the record in the paper's language.

The record is written in English. A language file may hold `[phrase]` with sentences and clauses
of the record on the left, what they are in that language on the right, and placeholders:

    {n…}  a number                      {l…}  a list of speeds, as `1500, 2000 and 6000`
    {w…}  words that are phrases too    {x…}  words that stay as they are

A sentence that is not known whole stays in English, and is marked as English: nothing is guessed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache

from acquire.report.blocks import Words
from acquire.report.language import RECORD_LANGUAGE, Language

_PLACE = re.compile(r"\{([nlwx])(\w*)\}")
_SHAPES = {
    "n": r"[+-]?\d+(?:\.\d+)?(?:e[+-]?\d+)?",
    "l": r"\d+(?:\.\d+)?(?:(?:, | and )\d+(?:\.\d+)?)*",
    "w": r".+?",
    "x": r".*?",
}
_SPLITS = (
    (re.compile(r"(?<=[.?!]) (?=[A-Z0-9])"), " "),
    (re.compile(r"; "), "; "),
    (re.compile(r", "), ", "),
)
"""Sentences, clauses, lists."""


def in_language(language: Language, recorded: str) -> Words:
    """The recorded sentences in the paper's language, or as they stand where one is not known."""
    if language.code == RECORD_LANGUAGE or not recorded:
        return Words(recorded)
    found = _translated(language.code, recorded)
    return Words(found) if found is not None else Words(recorded, lang=RECORD_LANGUAGE)


def _translated(code: str, text: str) -> str | None:
    """The whole text, else its sentences, else its clauses."""
    whole = _phrase(code, text)
    if whole is not None:
        return whole
    for splitter, joint in _SPLITS:
        parts = splitter.split(text)
        if len(parts) > 1:
            said = [_translated(code, part) for part in parts]
            if all(said):
                return joint.join(part for part in said if part)
    if text.endswith(".") and len(text) > 1:
        body = _translated(code, text[:-1])
        return None if body is None else f"{body}."
    return None


def _phrase(code: str, text: str) -> str | None:
    for pattern, target in _patterns(code):
        found = pattern.fullmatch(text)
        if found is None:
            continue
        parts = {name: _part(code, name, value) for name, value in found.groupdict().items()}
        if all(part is not None for part in parts.values()):
            return target.format_map(parts)
    return None


def _part(code: str, name: str, value: str) -> str | None:
    from acquire.report.language import language

    if name[0] == "n":
        return language(code).figures(value)
    if name[0] == "l":
        joint = language(code).texts["word.and"]
        return " ".join(joint if word == "and" else word for word in value.split(" "))
    return _translated(code, value) if name[0] == "w" else value


@cache
def _patterns(code: str) -> tuple[tuple[re.Pattern[str], str], ...]:
    from acquire.report.language import language

    return tuple(_compiled(language(code)))


def _compiled(language: Language) -> Iterator[tuple[re.Pattern[str], str]]:
    for source, target in language.phrases.items():
        places = list(_PLACE.finditer(source))
        pieces, last = [], 0
        for place in places:
            kind, rest = place.groups()
            pieces.append(re.escape(source[last : place.start()]))
            pieces.append(f"(?P<{kind}{rest}>{_SHAPES[kind]})")
            last = place.end()
        pieces.append(re.escape(source[last:]))
        yield re.compile("".join(pieces), re.DOTALL), target
