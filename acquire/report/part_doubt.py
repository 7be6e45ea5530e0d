"""How far the figures can be trusted: the budget of doubt, and how each reading was taken."""

from __future__ import annotations

import math

from acquire.judge.budget import HALF_WIDTH_K, Budget, Part
from acquire.report.blocks import Block, Column, Items, Mark, Paragraph, Section, Table, Words
from acquire.report.language import Language
from acquire.report.material import Material, StepRead, texts_of
from acquire.report.recorded_words import in_language


def doubt_section(material: Material, language: Language) -> Section:
    """The whole budget of the speed that decides, and that of the others in one line each."""
    known = [reading for reading in material.readings if reading.budget is not None]
    title = language.text("section.doubt")
    if not known:
        return Section("doubt", title, (Paragraph((language.say("doubt.none"),)),))
    blocks: list[Block] = []
    for reading in _shown(material, known):
        blocks += _budget_blocks(reading, language)
    blocks.append(_overview(known, language))
    blocks += _fit_warnings(material, language)
    return Section("doubt", title, tuple(blocks))


def _fit_warnings(material: Material, language: Language) -> list[Block]:
    fit = material.verdict.get("fit")
    warnings = texts_of(fit, "warnings") if isinstance(fit, dict) else ()
    if not warnings:
        return []
    said = []
    for warning in warnings:
        words = in_language(language, warning)
        text = language.text("doubt.fit", words=words.text)
        said.append(Words(text, lang=words.lang))
    return [Items(tuple(said))]


def _shown(material: Material, known: list[StepRead]) -> list[StepRead]:
    """The speed that decides; the highest where none does."""
    decides = material.decides
    rpm = decides.shaft_rpm if decides else max(_set_rpm(reading) for reading in known)
    return [min(known, key=lambda reading: abs(_set_rpm(reading) - rpm))]


def _set_rpm(reading: StepRead) -> float:
    return reading.row.measured.set_rpm or reading.row.measured.shaft_rpm or 0.0


def _budget_blocks(reading: StepRead, language: Language) -> list[Block]:
    budget = reading.budget
    if budget is None:
        return []
    amps = reading.row.judged.amps_at_set_rpm or reading.row.measured.amps
    caption = language.say(
        "doubt.caption",
        rpm=language.number(_set_rpm(reading)),
        amps=language.with_doubt(amps, HALF_WIDTH_K * budget.u).text,
    )
    names = ("u", "shape", "sensitivity", "dof", "u_amps", "share")
    columns = [Column(language.say("doubt.source"), align="left")]
    columns += [
        Column(language.say(f"doubt.{name}"), align="left" if name == "shape" else "right")
        for name in names
    ]
    rows = [_part_row(part, budget, language) for part in budget.parts if part.u_amps > 0.0]
    table = Table(
        caption=caption,
        columns=tuple(columns),
        rows=(*rows, _total_row(budget, language)),
        note=language.say("doubt.note"),
    )
    said = [_biggest(budget, language)]
    if budget.missing:
        names_of = ", ".join(in_language(language, word).text for word in budget.missing)
        said.append(language.say("doubt.missing", words=names_of))
    return [Paragraph(tuple(said)), table]


def _biggest(budget: Budget, language: Language) -> Words:
    words = in_language(language, budget.words())
    return Words(language.text("doubt.biggest", words=words.text), lang=words.lang)


def _part_row(part: Part, budget: Budget, language: Language) -> tuple[Words, ...]:
    name = in_language(language, part.name)
    said = f"{name.text} ({language.text('doubt.common')})" if part.common else name.text
    unit = language.texts.get(f"unit.{part.unit_of_measure}", part.unit_of_measure)
    return (
        Words(said, lang=name.lang),
        Words(f"{language.short(part.u)} {unit}"),
        language.word_for("shape", part.distribution),
        Words(language.short(part.sensitivity)),
        _dof(part.dof, language),
        _or_less(part.u_amps, 3, language),
        Words(f"{_or_less(budget.share_percent(part), 0, language).text} %"),
    )


def _or_less(value: float, decimals: int, language: Language) -> Words:
    """A figure, or `< 0.001`: what is there is never shown as nothing."""
    least: float = 10.0**-decimals
    if 0.0 < value < least / 2.0:
        return Words(f"< {language.number(least, decimals)}")
    return Words(language.number(value, decimals))


def _total_row(budget: Budget, language: Language) -> tuple[Words, ...]:
    strong: Mark = "strong"
    blank = Words("")
    return (
        language.say("doubt.total", mark=strong),
        blank,
        blank,
        blank,
        _dof(budget.dof, language),
        Words(language.number(budget.u, 3), mark=strong),
        Words("100 %"),
    )


def _dof(dof: float, language: Language) -> Words:
    if not math.isfinite(dof) or dof > 1e4:
        return language.say("doubt.unlimited")
    return Words(language.number(dof))


def _overview(known: list[StepRead], language: Language) -> Table:
    rows = []
    for reading in known:
        budget = reading.budget
        if budget is None:
            continue
        heavy = budget.biggest
        name = in_language(language, heavy.name) if heavy else language.say("word.none")
        share = f" ({language.number(budget.share_percent(heavy))} %)" if heavy else ""
        amps = reading.row.judged.amps_at_set_rpm or reading.row.measured.amps
        rows.append(
            (
                language.amount(_set_rpm(reading), "rpm"),
                language.amount(amps, decimals=1),
                Words(language.number(budget.u, 2)),
                Words(language.number(HALF_WIDTH_K * budget.u, 2)),
                Words(f"{name.text}{share}", lang=name.lang),
            )
        )
    names = ("rpm", "amps", "u_total", "half", "biggest_part")
    return Table(
        caption=language.say("doubt.overview"),
        columns=tuple(
            Column(language.say(f"doubt.{n}"), align="left" if n == "biggest_part" else "right")
            for n in names
        ),
        rows=tuple(rows),
    )


# ---- readings --------------------------------------------------------------------------------


def readings_section(material: Material, language: Language) -> Section | None:
    """One row a step, as it was read."""
    if not material.readings:
        return None
    names = ("step", "set_rpm", "shaft_rpm", "amps", "volts", "case", "settled", "seconds")
    columns = [
        Column(language.say(f"reading.{n}"), align="left" if n == "settled" else "right")
        for n in (*names, "readings")
    ]
    table = Table(
        caption=language.say("reading.caption"),
        columns=tuple(columns),
        rows=tuple(_reading_row(reading, language) for reading in material.readings),
        note=language.say("reading.note"),
    )
    return Section("readings", language.text("section.readings"), (table,))


_SETTLED_MARKS: dict[str, Mark] = {"no": "bad"}


def _reading_row(reading: StepRead, language: Language) -> tuple[Words, ...]:
    one = reading.row.measured
    settled = language.word_for("settled", one.settled if one.amps is not None else None)
    return (
        Words(str(one.step)),
        language.amount(one.set_rpm),
        language.with_doubt(one.shaft_rpm, _half(one.u_shaft_rpm), 0),
        language.with_doubt(one.amps, _half(one.u_amps)),
        language.with_doubt(one.volts, _half(one.u_volts), 2),
        language.amount(one.case_c),
        Words(settled.text, mark=settled.mark or _SETTLED_MARKS.get(one.settled, "")),
        language.amount(one.settle_s),
        Words(str(one.readings)) if one.readings is not None else language.missing,
    )


def _half(u: float | None) -> float | None:
    return None if u is None else HALF_WIDTH_K * u
