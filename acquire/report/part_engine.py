"""What the unit gives on the customer's engine: amps at idle, when cruising, at full throttle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from acquire.report.blocks import Block, Column, Items, Paragraph, Section, Table, Words
from acquire.report.language import Language
from acquire.report.material import Material
from acquire.report.recorded_words import in_language

if TYPE_CHECKING:
    from acquire.match.matching import AtEngineSpeed, EngineSpeeds, Matched
    from acquire.match.pulley import BeltDrive


@dataclass(frozen=True, slots=True)
class Engine:
    """The customer's engine and how it turns the unit."""

    drive: BeltDrive
    speeds: EngineSpeeds


def engine_section(material: Material, engine: Engine, language: Language) -> Section:
    """A row each for idle, cruise and top, with what warns."""
    from acquire.candidates import candidate_of
    from acquire.match.matching import match

    title = language.text("section.engine")
    if not isinstance(material.verdict.get("fit"), dict):
        words = language.say("engine.no_fit", mark="missing")
        return Section("engine", title, (Paragraph((words,)),))
    candidate = candidate_of(material.run)
    result = match([candidate], drive=engine.drive, engine=engine.speeds)
    unit = result.candidates[0]
    warnings = (*unit.warnings, *result.warnings)
    blocks: list[Block] = [_table(unit, engine, language)]
    if warnings:
        blocks.append(Items(tuple(in_language(language, one) for one in warnings)))
    return Section("engine", title, tuple(blocks))


def _table(unit: Matched, engine: Engine, language: Language) -> Table:
    places = [("idle", unit.idle), *(("cruise", one) for one in unit.cruise), ("top", unit.top)]
    names = ("place", "engine_rpm", "shaft_rpm", "amps", "band")
    return Table(
        caption=language.say("engine.caption"),
        columns=tuple(
            Column(language.say(f"engine.{n}"), align="left" if n == "place" else "right")
            for n in names
        ),
        rows=tuple(_row(place, at, language) for place, at in places),
        note=language.say(
            "engine.note",
            ratio=language.short(engine.drive.ratio, 4),
            slip=language.short(engine.drive.slip_percent),
        ),
    )


def _row(place: str, at: AtEngineSpeed, language: Language) -> tuple[Words, ...]:
    given = at.given
    low, high = language.number(given.low, 1), language.number(given.high, 1)
    band = language.text("word.range", low=low, high=high, unit="A")
    if given.extrapolated:
        band += f", {language.text('engine.beyond')}"
    return (
        language.say(f"engine.{place}"),
        language.amount(at.engine_rpm, "rpm"),
        language.amount(given.shaft_rpm, "rpm"),
        language.amount(given.amps, "A", 1),
        Words(band, mark="doubt" if given.extrapolated else ""),
    )
