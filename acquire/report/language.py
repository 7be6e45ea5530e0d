"""The fixed texts of paper in one language, its number and date formats, from one TOML file.

A further language is one more file in `languages`, named by its code, with the keys of `en.toml`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from string import Formatter
from typing import Any

from acquire.judge.verdict_words import percent_down
from acquire.record.bench_time import at_bench, zone_beside
from acquire.report.blocks import Mark, Words
from profiles.errors import Problem, ProfileError
from profiles.plain_text import listed, shown, visible
from profiles.toml_file import read_toml

FOLDER = Path(__file__).parent / "languages"
RECORD_LANGUAGE = "en"
"""What the record itself is written in."""


@dataclass(frozen=True)
class Language:
    """One language."""

    code: str
    texts: Mapping[str, str]
    """By `section.key`."""
    phrases: Mapping[str, str] = field(default_factory=dict)
    """Sentences of the record with {placeholders}, and what they are in this language."""

    def text(self, key: str, **values: str) -> str:
        """The text of a key, with its placeholders filled in (by text made ready before)."""
        text = self.texts[key]
        return text.format_map(values) if values else text

    def say(self, key: str, mark: Mark = "", **values: str) -> Words:
        """The same as words of the paper."""
        return Words(self.text(key, **values), mark=mark)

    def word_for(self, group: str, name: str | None) -> Words:
        """A word of a closed list, as an outcome; unknown names stay as they are."""
        if not name:
            return self.missing
        known = self.texts.get(f"{group}.{name.replace(' ', '_').replace('-', '_')}")
        return Words(known if known is not None else name)

    @property
    def missing(self) -> Words:
        """What stands where nothing was recorded."""
        return Words(self.texts["word.missing"], mark="missing")

    @property
    def _foreign(self) -> str:
        return "" if self.code == RECORD_LANGUAGE else RECORD_LANGUAGE

    # ---- numbers and dates -------------------------------------------------------------------

    def number(self, value: float, decimals: int = 0, *, sign: bool = False) -> str:
        """A number with its decimal mark and a real minus."""
        text = f"{value:{'+' if sign else ''}.{decimals}f}"
        if not text.strip("+-0.") and text.startswith("-"):
            text = text.replace("-", "+" if sign else "", 1)
        return self.figures(text)

    def figures(self, text: str) -> str:
        """A number written with a dot and a hyphen, in this language's signs."""
        return text.replace(".", self.texts["number.decimal"]).replace("-", "\u2212")

    def short(self, value: float, digits: int = 3) -> str:
        """A number with so many digits, without needless zeros."""
        return self.figures(f"{value:.{digits}g}") if abs(value) < 1e5 else self.number(value)

    def day(self, value: date | str | None) -> Words:
        """A date; text that is none stays as it is."""
        if value is None or value == "":
            return self.missing
        if isinstance(value, date):
            return Words(self._dated("date.day", value))
        try:
            return Words(self._dated("date.day", date.fromisoformat(value[:10])))
        except ValueError:
            return Words(value, lang=self._foreign)

    def moment(self, utc: str | None, offset: timedelta | None) -> Words:
        """A date and time of the record on the bench's clock, `offset` ahead of UTC, and in what.

        Without an offset it is told in UTC.
        """
        if not utc:
            return self.missing
        try:
            when = at_bench(utc, offset)
        except ValueError:
            return Words(utc)
        clock = self.text(
            "date.clock",
            hour=f"{when.hour:02d}",
            minute=f"{when.minute:02d}",
            zone=self.figures(zone_beside(when)),
        )
        return Words(f"{self._dated('date.day', when)} {clock}")

    def _dated(self, key: str, value: date) -> str:
        return self.text(
            key, year=f"{value.year:04d}", month=f"{value.month:02d}", day=f"{value.day:02d}"
        )

    # ---- quantities: missing data shows as missing -------------------------------------------

    def amount(
        self, value: float | None, unit: str = "", decimals: int = 0, *, sign: bool = False
    ) -> Words:
        """A number with its unit of measure."""
        if value is None or not math.isfinite(value):
            return self.missing
        unit = self.texts.get(f"unit.{unit}", unit)
        figure = self.number(value, decimals, sign=sign)
        return Words(f"{figure}\u00a0{unit}" if unit else figure)

    def with_doubt(self, value: float | None, half: float | None, decimals: int = 1) -> Words:
        """As in `45.2 ±0.3`; what is not known is left out or missing."""
        if value is None or not math.isfinite(value):
            return self.missing
        if half is None or not math.isfinite(half):
            return Words(self.number(value, decimals))
        if 0.0 < half < 0.5 * 10.0**-decimals:
            decimals += 1
        return Words(f"{self.number(value, decimals)} ±{self.number(half, decimals)}")

    def chance(self, value: float | None) -> Words:
        """A chance in percent, cut to a tenth as in the verdict's sentence, never rounded up."""
        if value is None:
            return self.missing
        if value < 0.001:
            return Words(f"< {self.number(0.1, 1)} %")
        return Words(f"{self.number(percent_down(value), 1)} %")


def known_languages() -> list[str]:
    """The codes of all languages there are."""
    return sorted(path.stem for path in FOLDER.glob("*.toml"))


@cache
def language(code: str) -> Language:
    """The language of this code.

    Raises:
        ProfileError: There is no such language.
    """
    codes = known_languages()
    if code not in codes:
        message = f"{shown(code)} is not a language of the report."
        hint = f"Known: {listed(codes, joint='and')}."
        raise ProfileError([Problem("settings.toml", "report.language", message, hint)])
    return read_language(FOLDER / f"{code}.toml")


def read_language(path: Path) -> Language:
    """The language of a file.

    Raises:
        ProfileError: It is no TOML, or holds something else than texts in groups.
    """
    table = read_toml(path)
    texts = dict(_flat(table, str(path)))
    phrases = {key.removeprefix("phrase."): text for key, text in texts.items() if _is_phrase(key)}
    own = {key: text for key, text in texts.items() if not _is_phrase(key)}
    return Language(path.stem, own, phrases)


def _is_phrase(key: str) -> bool:
    return key.startswith("phrase.")


def _flat(table: Mapping[str, Any], file: str) -> Iterator[tuple[str, str]]:
    for group, texts in table.items():
        if not isinstance(texts, dict):
            raise ProfileError(
                [
                    Problem(
                        file,
                        visible(group),
                        "must be a group of texts.",
                        f"Write [{visible(group)}] on a line of its own, and texts below it.",
                    )
                ]
            )
        for key, text in texts.items():
            wrong = _wrong_with(text)
            if wrong:
                place = f"{visible(group)}.{visible(key)}"
                raise ProfileError([Problem(file, place, wrong, "Mend that text.")])
            yield f"{group}.{key}", text


def _wrong_with(text: object) -> str:
    if not isinstance(text, str):
        return f"must be text; it is {shown(text)}."
    try:
        list(Formatter().parse(text))
    except ValueError as error:
        return f"its placeholders cannot be read: {error}."
    return ""
