"""Sentences of the record in the paper's language.

The record is written in English. A language file may hold `[phrase]` with sentences and clauses
of the record on the left, what they are in that language on the right, and placeholders:

    {n…}  a number                      {l…}  a list of speeds, as `1500, 2000 and 6000`
    {w…}  words that are phrases too    {x…}  words that stay as they are
    {u…}  a unit of measure             {c…}  the name of a channel, as `shaft_rpm`
    {t…}  names: those that are phrases too in this language, those that people typed as typed

A sentence that is not known whole stays in English, and is marked as English: nothing is guessed.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import cache

from acquire.report.blocks import Words
from acquire.report.language import RECORD_LANGUAGE, Language

_PLACE = re.compile(r"\{([nlwxuct])(\w*)\}")
_SHAPES = {
    "n": r"[+-]?\d+(?:\.\d+)?(?:e[+-]?\d+)?",
    "l": r"\d+(?:\.\d+)?(?:(?:, | and )\d+(?:\.\d+)?)*",
    "w": r".+?",
    "u": r"[^.;,]+?",
    "c": r"[a-z_]+",
    "t": r"(?:(?!\. ).)+?",
    "x": r".*?",
}
_SPLITS = (
    (re.compile(r"(?<=[.?!]) (?=[A-Z0-9])"), " "),
    (re.compile(r"; "), "; "),
    (re.compile(r", "), ", "),
)
"""Sentences, clauses, lists."""
LONGEST = 10_000
"""The program writes no text so long, and to look for phrases in it takes long."""


def in_language(language: Language, recorded: str, typed: Collection[str] = frozenset()) -> Words:
    """The recorded sentences in the paper's language, or as they stand where one is not known.

    `typed`: names that people gave; they stay as typed, though a phrase be like them.
    """
    if language.code == RECORD_LANGUAGE or not recorded:
        return Words(recorded)
    if len(recorded) > LONGEST:
        return Words(recorded, lang=RECORD_LANGUAGE)
    found = _Said(language, typed).translated(recorded)
    return Words(found) if found is not None else Words(recorded, lang=RECORD_LANGUAGE)


def name_in_language(language: Language, name: str, *, shipped: bool) -> str:
    """A name that the program ships in the paper's language; one that people typed as typed."""
    return in_language(language, name).text if shipped else name


@dataclass(frozen=True, slots=True)
class _Said:
    """One text of the record on its way into a language."""

    language: Language
    typed: Collection[str]

    def translated(self, text: str) -> str | None:
        """The whole text, else its sentences, else its clauses; None where a part is not known."""
        whole = self._phrase(text)
        if whole is not None:
            return whole
        for splitter, joint in _SPLITS:
            parts = splitter.split(text)
            if len(parts) > 1:
                said = [self.translated(part) for part in parts]
                if all(said):
                    return joint.join(part for part in said if part)
        if text.endswith(".") and len(text) > 1:
            body = self.translated(text[:-1])
            return None if body is None else f"{body}."
        return None

    def _phrase(self, text: str) -> str | None:
        for pattern, target in _patterns(self.language.code):
            found = pattern.fullmatch(text)
            if found is None:
                continue
            parts = {name: self._part(name[0], value) for name, value in found.groupdict().items()}
            if all(part is not None for part in parts.values()):
                return target.format_map(parts)
        return None

    def _part(self, kind: str, value: str) -> str | None:
        texts = self.language.texts
        match kind:
            case "n":
                return self.language.figures(value)
            case "l":
                joint = texts["word.and"]
                figures = self.language.figures
                return " ".join(
                    joint if word == "and" else figures(word) for word in value.split(" ")
                )
            case "u":
                return texts.get(f"unit.{value}", value)
            case "c":
                return texts.get(f"channel.{value}", value)
            case "t":
                return ", ".join(self._name(one) for one in value.split(", "))
            case "w":
                return self.translated(value)
        return value

    def _name(self, name: str) -> str:
        return name if name in self.typed else self.translated(name) or name


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
