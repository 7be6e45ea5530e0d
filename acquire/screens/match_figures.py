"""The figures of an engine as they are typed, and the answer that follows from them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from acquire.typed_number import typed_number
from profiles.errors import BenchError
from profiles.plain_text import shown

if TYPE_CHECKING:
    from acquire.match.candidate import Candidate
    from acquire.match.matching import Match


@dataclass(frozen=True, slots=True)
class Asked:
    """One figure to be typed."""

    name: str
    words: str
    unit_of_measure: str
    needed: bool = False


FIGURES = (
    Asked("engine_mm", "engine pulley, pitch diameter", "mm"),
    Asked("unit_mm", "alternator pulley, pitch diameter", "mm"),
    Asked("ratio", "or the ratio alone", ""),
    Asked("idle", "engine at idle", "rpm", needed=True),
    Asked("cruise", "engine when cruising (1400..2200)", "rpm", needed=True),
    Asked("top", "engine at full throttle", "rpm", needed=True),
    Asked("slip", "slip of the belt (1)", "%"),
    Asked("need", "amps wanted when cruising", "A"),
    Asked("bank", "battery bank", "Ah"),
    Asked("used", "to put back", "Ah"),
)


class NotYet(BenchError):
    """A figure is missing or is none."""


def answer(typed: Mapping[str, str], candidates: Sequence[Candidate]) -> Match:
    """Match the candidates by what is typed.

    Raises:
        BenchError: A figure is missing or impossible; the message says which.
    """
    from acquire.match.matching import Bank, EngineSpeeds
    from acquire.match.matching import match as put_on_engine
    from acquire.match.pulley import BeltDrive

    slip = _figure(typed, "slip")
    slip_percent = 1.0 if slip is None else slip
    ratio, engine_mm, unit_mm = (_figure(typed, n) for n in ("ratio", "engine_mm", "unit_mm"))
    if engine_mm is not None and unit_mm is not None:
        drive = BeltDrive.from_pulleys(
            engine_mm=engine_mm, alternator_mm=unit_mm, slip_percent=slip_percent
        )
    elif ratio is not None:
        drive = BeltDrive(ratio, slip_percent=slip_percent)
    else:
        raise NotYet("Type both pulleys, or the ratio.")
    engine = EngineSpeeds(_must(typed, "idle"), _range(typed), _must(typed, "top"))
    if not candidates:
        raise NotYet("Add a unit to be matched: a rated curve or a past test.")
    bank, used = _figure(typed, "bank"), _figure(typed, "used")
    return put_on_engine(
        candidates,
        drive=drive,
        engine=engine,
        need_amps=_figure(typed, "need"),
        bank=Bank(bank, used) if bank is not None and used is not None else None,
    )


def _words(name: str) -> str:
    return next(figure.words for figure in FIGURES if figure.name == name)


def _figure(typed: Mapping[str, str], name: str) -> float | None:
    text = typed.get(name, "").strip()
    if not text:
        return None
    figure = typed_number(text)
    if isinstance(figure, str):
        raise NotYet(f"{shown(text)} is no figure for: {_words(name)}.")
    return figure


def _must(typed: Mapping[str, str], name: str) -> float:
    figure = _figure(typed, name)
    if figure is None:
        raise NotYet(f"Type: {_words(name)}.")
    return figure


def _range(typed: Mapping[str, str]) -> tuple[float, float]:
    text = typed.get("cruise", "").strip()
    low, _, high = text.partition("..")
    high = high or low
    if not text:
        raise NotYet(f"Type: {_words('cruise')}.")
    speeds = typed_number(low), typed_number(high)
    if isinstance(speeds[0], str) or isinstance(speeds[1], str):
        raise NotYet(f"{shown(text)} is no engine speed; write 1800, or 1400..2200.")
    return speeds[0], speeds[1]
