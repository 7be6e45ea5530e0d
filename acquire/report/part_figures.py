"""Characteristic figures with the symbols of the standards, checks, and findings.

Symbols and definitions as in ISO 8854 and SAE J56: V_T test voltage, n_A cut-in speed, n_0 zero-
ampere speed, I_L at n_L, I_R at n_R, n_max. The speeds are those stored with the rating.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from acquire.judge.budget import HALF_WIDTH_K
from acquire.report.blocks import (
    Block,
    Column,
    Fact,
    Facts,
    Items,
    Mark,
    Paragraph,
    Section,
    Table,
    Words,
)
from acquire.report.language import Language
from acquire.report.material import (
    Material,
    SpeedRow,
    number_of,
    text_of,
    texts_of,
)
from acquire.report.recorded_words import in_language, name_in_language


def figures_section(material: Material, language: Language) -> Section:
    """Table of the characteristic figures."""
    rows = [_test_voltage(material, language), *_speeds_of_foot(material, language)]
    rows += _currents(material, language)
    rows += [_fit_top(material, language), _max_rpm(material, language)]
    table = Table(
        caption=language.say("figure.caption"),
        columns=(
            Column(language.say("figure.symbol"), align="left"),
            Column(language.say("figure.what"), align="left"),
            Column(language.say("figure.measured")),
            Column(language.say("figure.rated")),
        ),
        rows=tuple(rows),
        note=language.say("figure.note"),
    )
    return Section("figures", language.text("section.figures"), (table,))


def _test_voltage(material: Material, language: Language) -> tuple[Words, ...]:
    volts = [r.row.measured.volts for r in material.readings if r.row.measured.volts is not None]
    mean = sum(volts) / len(volts) if volts else None
    rated = material.rated.volts if material.rated else None
    return (
        Words("V", sub="T"),
        language.say("figure.test_voltage"),
        language.amount(mean, "V", 2),
        language.amount(rated, "V", 1),
    )


def _speeds_of_foot(material: Material, language: Language) -> list[tuple[Words, ...]]:
    fit = material.verdict.get("fit")
    fit = fit if isinstance(fit, Mapping) else {}
    parameters = fit.get("parameters")
    parameters = parameters if isinstance(parameters, Mapping) else {}
    rows: list[tuple[Words, ...]] = []
    for sub, key, data in (
        ("A", "cut_in", fit.get("cut_in_rpm")),
        ("0", "zero_amps", parameters.get("n0_rpm")),
    ):
        measured = _estimate(data, "rpm", language)
        rows.append((Words("n", sub=sub), language.say(f"figure.{key}"), measured, _dash()))
    return rows


def _estimate(data: object, unit: str, language: Language, decimals: int = 0) -> Words:
    if not isinstance(data, Mapping):
        return language.say("figure.not_revealed", mark="missing")
    value, u = number_of(data, "value"), number_of(data, "u")
    words = language.with_doubt(value, None if u is None else HALF_WIDTH_K * u, decimals)
    unit = language.texts.get(f"unit.{unit}", unit)
    return words if words.mark else Words(f"{words.text} {unit}")


def _dash() -> Words:
    return Words("–", mark="missing")


def _currents(material: Material, language: Language) -> list[tuple[Words, ...]]:
    rated = material.rated
    if rated is None or not rated.points:
        return _top_only(material, language)
    rows: list[tuple[Words, ...]] = []
    ends = [("R", "rated_current", rated.points[-1])]
    if len(rated.points) > 1:
        ends.insert(0, ("L", "idle_current", rated.points[0]))
    for sub, key, (rpm, amps) in ends:
        row = row_at(material, rpm)
        measured = language.with_doubt(row.amps, row.half_amps) if row else language.missing
        rows.append(
            (
                Words("I", sub=sub),
                language.say(f"figure.{key}", rpm=language.number(rpm)),
                measured if measured.mark else Words(f"{measured.text} A"),
                language.amount(amps, "A", 1),
            )
        )
    return rows


def row_at(material: Material, shaft_rpm: float) -> SpeedRow | None:
    """The row of a judged speed."""
    return next((r for r in material.rows if abs(r.shaft_rpm - shaft_rpm) < 0.5), None)


def _top_only(material: Material, language: Language) -> list[tuple[Words, ...]]:
    measured = [row for row in material.rows if row.amps is not None]
    if not measured:
        return []
    top = max(measured, key=lambda row: row.amps or 0.0)
    words = language.with_doubt(top.amps, top.half_amps)
    what = language.say("figure.top", rpm=language.number(top.shaft_rpm))
    return [(Words("I", sub="max"), what, Words(f"{words.text} A"), _dash())]


def _fit_top(material: Material, language: Language) -> tuple[Words, ...]:
    fit = material.verdict.get("fit")
    parameters = fit.get("parameters") if isinstance(fit, Mapping) else None
    data = parameters.get("i_max_amps") if isinstance(parameters, Mapping) else None
    measured = _estimate(data, "A", language, 1)
    return (Words("I", sub="∞"), language.say("figure.fit_top"), measured, _dash())


def _max_rpm(material: Material, language: Language) -> tuple[Words, ...]:
    tested = max((row.shaft_rpm for row in material.rows if row.amps is not None), default=None)
    most = material.rated.max_shaft_rpm if material.rated else None
    return (
        Words("n", sub="max"),
        language.say("figure.max_rpm"),
        language.amount(tested, "rpm"),
        language.amount(most, "rpm"),
    )


# ---- checks ----------------------------------------------------------------------------------

_CHECK_MARKS: dict[str, Mark] = {"pass": "good", "fail": "bad", "not done": "doubt"}


def checks_section(material: Material, language: Language) -> Section:
    """The other things the unit must pass."""
    checks = [one for one in _list(material.verdict, "checks") if isinstance(one, Mapping)]
    blocks: tuple[Block, ...] = (Items((language.say("check.none"),)),)
    if checks:
        table = Table(
            caption=language.say("check.caption"),
            columns=tuple(
                Column(language.say(f"check.{name}"), align="left")
                for name in ("name", "found", "allowed", "outcome")
            ),
            rows=tuple(_check_row(check, material, language) for check in checks),
        )
        blocks = (table, *_check_sources(material, language))
    return Section("checks", language.text("section.checks"), blocks)


def _list(data: Mapping[str, Any], key: str) -> list[Any]:
    value = data.get(key)
    return value if isinstance(value, list) else []


def _check_row(
    check: Mapping[str, Any], material: Material, language: Language
) -> tuple[Words, ...]:
    name = text_of(check, "name") or "?"
    outcome = text_of(check, "outcome")
    at_rpm = next((c.at_rpm for c in _asked(material) if c.name == name), None)
    place = language.text("check.at", rpm=language.number(at_rpm)) if at_rpm else ""
    return (
        Words(f"{_check_name(name, material, language)} {place}".rstrip()),
        _found(check, language),
        _check_limits(check, language),
        Words(language.word_for("check_outcome", outcome).text, mark=_CHECK_MARKS.get(outcome, "")),
    )


def _check_name(name: str, material: Material, language: Language) -> str:
    return name_in_language(language, name, shipped=name not in material.typed_names)


def _asked(material: Material) -> tuple[Any, ...]:
    return material.profiles.method.check if material.profiles else ()


def _found(check: Mapping[str, Any], language: Language) -> Words:
    value = check.get("value")
    if isinstance(value, bool):
        return language.say("word.yes" if value else "word.no")
    if isinstance(value, str) and value:
        return Words(value)
    number = number_of(check, "value")
    if number is None:
        return language.missing
    return Words(f"{language.short(number, 4)} {text_of(check, 'in')}".rstrip())


def _check_limits(check: Mapping[str, Any], language: Language) -> Words:
    low, high, unit = number_of(check, "low"), number_of(check, "high"), text_of(check, "in")
    if text_of(check, "kind") == "yes-no":
        return language.say("word.yes")
    if low is None and high is None:
        return language.say("word.no_limits")
    key = "between" if low is not None and high is not None else "at_least"
    key = "at_most" if low is None else key
    ends = {"low": language.short(low or 0.0, 4), "high": language.short(high or 0.0, 4)}
    return Words(language.text(f"word.{key}", unit=unit, **ends).rstrip())


def _check_sources(material: Material, language: Language) -> tuple[Block, ...]:
    sources = tuple(
        Words(
            language.text(
                "check.source",
                name=_check_name(check.name, material, language),
                source=in_language(language, check.source).text,
            ),
            mark="small",
        )
        for check in _asked(material)
        if check.source
    )
    return (Items(sources),) if sources else ()


# ---- findings --------------------------------------------------------------------------------

_SAID = ("evidence", "rests_on", "what_would_settle", "caution")


def findings_section(material: Material, language: Language) -> Section:
    """Each finding with its evidence, how sure it is, and what would settle it."""
    blocks: list[Block] = []
    for finding in _list(material.verdict, "findings"):
        if isinstance(finding, Mapping):
            blocks += _finding(finding, language)
    if not blocks:
        blocks.append(Paragraph((language.say("finding.none"),)))
    return Section("findings", language.text("section.findings"), tuple(blocks))


def _finding(finding: Mapping[str, Any], language: Language) -> list[Block]:
    words = in_language(language, text_of(finding, "words") or text_of(finding, "name"))
    facts = [Fact(language.say("finding.sure"), (_sure(finding, language),))]
    for key in _SAID:
        said = tuple(in_language(language, text) for text in texts_of(finding, key))
        if said:
            facts.append(Fact(language.say(f"finding.{key}"), said))
    head = Paragraph((Words(words.text, lang=words.lang, mark="strong"),))
    return [head, Facts(tuple(facts))]


def _sure(finding: Mapping[str, Any], language: Language) -> Words:
    word = language.word_for("sure", text_of(finding, "sure"))
    chance = number_of(finding, "probability")
    if chance is None:
        return word
    return Words(f"{word.text} ({language.chance(chance).text})", lang=word.lang)
