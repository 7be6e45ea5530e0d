"""The marking on a unit's plate: `45/90A 14V @1500/6000`, as ISO 8854 and SAE J56 mark it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from profiles.errors import Problem, ProfileError
from profiles.plain_text import shown

LONGEST = 80
EXAMPLES = '"45/90A 14V @1500/6000" or "14V 90A @6000"'

_NUMBER = r"([0-9]{1,6}(?:[.,][0-9]{1,4})?)"
_PART = re.compile(
    rf"{_NUMBER}(?:\s*/\s*{_NUMBER})?\s*(amperes|ampere|amps|amp|volts|volt|a|v)(?![a-z0-9])",
    re.IGNORECASE,
)
_SPEEDS = re.compile(
    rf"{_NUMBER}(?:\s*/\s*{_NUMBER})?\s*(?:rpm|r/min|1/min|/min|min-1|min\^-1|min⁻¹)?",
    re.IGNORECASE,
)
_BETWEEN = re.compile(r"[\s,;|-]*")
_STARTS_LIKE_A_PLATE = re.compile(r"\s*[0-9.,]+\s*(?:/\s*[0-9.,]+\s*)?[av]\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Plate:
    """What a plate says; what it does not say is None. Speeds are shaft speeds."""

    idle_amps: float | None
    rated_amps: float
    volts: float
    idle_rpm: float | None
    rated_rpm: float | None


def looks_like_plate(text: str) -> bool:
    """Tell whether somebody meant the text of a plate, rather than a name or a path."""
    return _STARTS_LIKE_A_PLATE.match(text) is not None


def parse_plate(text: str) -> Plate:
    """Read the text of a plate: amps (idle/rated or rated), volts, and speeds after `@`.

    Raises:
        ProfileError: anything else; never another error.
    """
    if len(text) > LONGEST:
        raise _wrong(text, f"is longer than {LONGEST} characters.")
    electrical, at, speeds = text.partition("@")
    parts = _electrical(text, electrical)
    idle_amps, rated_amps = _amps(text, parts.get("A"))
    idle_rpm, rated_rpm = _speeds(text, speeds, idle_amps) if at else (None, None)
    return Plate(idle_amps, rated_amps, _volts(text, parts.get("V")), idle_rpm, rated_rpm)


def _electrical(text: str, electrical: str) -> dict[str, tuple[float | None, float]]:
    """Give what stands before A and V: (first of a pair or None, the only or second)."""
    parts: dict[str, tuple[float | None, float]] = {}
    at = 0
    while at < len(electrical):
        at = _end_of(_BETWEEN.match(electrical, at), at)
        if at == len(electrical):
            break
        found = _PART.match(electrical, at)
        if found is None:
            raise _wrong(text, f"has {shown(electrical[at:].strip())} where amps or volts belong.")
        letter = found[3][0].upper()
        if letter in parts:
            raise _wrong(text, f"gives {'amps' if letter == 'A' else 'volts'} twice.")
        parts[letter] = _pair(found)
        at = found.end()
    return parts


def _end_of(found: re.Match[str] | None, otherwise: int) -> int:
    return otherwise if found is None else found.end()


def _pair(found: re.Match[str]) -> tuple[float | None, float]:
    first = float(found[1].replace(",", "."))
    if found[2] is None:
        return None, first
    return first, float(found[2].replace(",", "."))


def _amps(text: str, amps: tuple[float | None, float] | None) -> tuple[float | None, float]:
    if amps is None:
        raise _wrong(text, "does not say the amps.")
    idle, rated = amps
    if rated <= 0 or (idle is not None and not 0 < idle <= rated):
        raise _wrong(text, "must have amps above zero, the larger one last.")
    return idle, rated


def _volts(text: str, volts: tuple[float | None, float] | None) -> float:
    if volts is None:
        raise _wrong(text, "does not say the volts.")
    if volts[0] is not None:
        raise _wrong(text, "gives two voltages.")
    if volts[1] <= 0:
        raise _wrong(text, "must have volts above zero.")
    return volts[1]


def _speeds(text: str, speeds: str, idle_amps: float | None) -> tuple[float | None, float]:
    found = _SPEEDS.fullmatch(speeds.strip())
    if found is None or speeds.strip() == "1/min":  # the unit of measure alone
        raise _wrong(text, "must have one or two speeds after the @, in rpm.")
    idle_rpm, rated_rpm = _pair(found)
    if (idle_rpm is None) != (idle_amps is None):
        raise _wrong(text, "must have as many speeds as amps.")
    if not 0 < rated_rpm < math.inf or (idle_rpm is not None and not 0 < idle_rpm < rated_rpm):
        raise _wrong(text, "must have speeds above zero, the higher one last.")
    return idle_rpm, rated_rpm


def _wrong(text: str, message: str) -> ProfileError:
    return ProfileError(
        [Problem(f"plate {shown(text)}", "", message, f"Write it as in {EXAMPLES}.")]
    )
