"""The head of a paper, as the screen has it: sentence, curve with its conditions, table."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from acquire.judge.speed_result import chance_decided
from acquire.judge.verdict_words import RUN_WARM
from acquire.report.blocks import (
    Beside,
    Block,
    Column,
    Fact,
    Facts,
    Items,
    Mark,
    Picture,
    Section,
    Table,
    VerdictBox,
    Words,
)
from acquire.report.chart import chart_of
from acquire.report.chart_svg import draw
from acquire.report.language import Language
from acquire.report.line_breaks import shortened
from acquire.report.material import Material, SpeedRow, text_of, texts_of
from acquire.report.part_conditions import conditions, conditions_in_short
from acquire.report.part_reference import reference_warning
from acquire.report.recorded_words import in_language

_MARKS: dict[str, Mark] = {"pass": "good", "fail": "bad", "undecided": "doubt", "stopped": "doubt"}
_SIGNS = {"pass": "=", "fail": "!", "undecided": "~", "stopped": "!", "not judged": "~"}
_JOB = ("customer", "fitted_to", "complaint", "parts_fitted", "claim")
_ON_THE_SHEET = ("unit", "serial", "job", "stage", "customer", "tested", "operator", "rated")
LONGEST_FACT = 600
LONGEST_ON_THE_SHEET = 90
"""Characters of what was typed for a job that stand on paper; the record has it whole."""


def head_facts(material: Material, language: Language, *, short: bool = False) -> Facts:
    """What was tested, for whom, when; `short`: what a sheet has room for."""
    header = material.header
    stated: list[tuple[str, Words]] = [
        ("unit", _own(language, header.unit)),
        ("serial", _own(language, header.serial)),
        ("job", _own(language, header.job.number)),
    ]
    if header.stage:
        stated.append(("stage", language.word_for("stage", header.stage)))
    given = ((name, getattr(header.job, name)) for name in _JOB)
    stated += [(name, Words(value)) for name, value in given if value]
    stated.append(("tested", language.moment(header.began_utc, header.utc_offset)))
    stated.append(("operator", _own(language, header.operator)))
    if header.rated is not None:
        stated.append(("rated", Words(header.rated.title)))
    kept = [one for one in stated if not short or one[0] in _ON_THE_SHEET]
    most = LONGEST_ON_THE_SHEET if short else LONGEST_FACT
    facts = tuple(_fact(name, words, most, language) for name, words in kept)
    return Facts((*facts, *conditions_in_short(material, language)) if short else facts)


def _fact(name: str, words: Words, most: int, language: Language) -> Fact:
    return Fact(language.say(f"head.{name}"), (replace(words, text=shortened(words.text, most)),))


def _own(language: Language, value: str | None) -> Words:
    return Words(value, mark="strong") if value else language.missing


def verdict_box(material: Material, language: Language) -> VerdictBox:
    """The verdict in one sentence, and what to do next."""
    outcome = material.outcome
    word = language.word_for("outcome", outcome)
    reason, what_next = text_of(material.verdict, "reason"), text_of(material.verdict, "what_next")
    said, typed = reason.removesuffix(what_next).rstrip(), material.typed_names
    sentence = in_language(language, said, typed)
    sentence = _without_first_word(sentence, word.text)
    next_words = in_language(language, what_next, typed) if what_next else None
    warning = reference_warning(material, language)
    return VerdictBox(
        mark=_MARKS.get(outcome, ""),
        sign=_SIGNS.get(outcome, "~"),
        word=word,
        sentence=(*_sentence(material, language, sentence), *([warning] if warning else [])),
        what_next=next_words,
    )


def _without_first_word(sentence: Words, word: str) -> Words:
    """The sentence without the word that stands large above it already."""
    for start in (f"{word}. ", f"{word}: "):
        if sentence.text.startswith(start):
            rest = sentence.text[len(start) :]
            return replace(sentence, text=rest[:1].upper() + rest[1:])
    return sentence


def _sentence(material: Material, language: Language, recorded: Words) -> tuple[Words, ...]:
    plain = f"outcome_sentence.{material.outcome.replace(' ', '_')}"
    if not recorded.text:
        return (language.say("outcome_sentence.none"),)
    if recorded.lang:
        # Not known in this language: say what the outcome means, then let the record speak.
        said = language.say(plain) if plain in language.texts else language.missing
        return (said, language.say("outcome_sentence.sentence_of_record", mark="small"), recorded)
    return (recorded,)


def chart_picture(
    material: Material,
    language: Language,
    before: Material | None = None,
    *,
    width_mm: float | None = None,
) -> Picture:
    """The output curve with what decides named below it."""
    chart = chart_of(material, language, before=before)
    caption = [language.text("chart.caption_plain")]
    decides = material.decides
    if decides is not None and decides.amps is not None and decides.limit_amps is not None:
        caption.insert(0, _decides_words(decides, language))
    return Picture(
        name="curve.svg",
        media="image/svg+xml",
        data=draw(chart).encode(),
        alt=chart.words.alt,
        caption=Words(" ".join(caption)),
        width_mm=width_mm,
    )


def _decides_words(row: SpeedRow, language: Language) -> str:
    values = {
        "rpm": language.number(row.shaft_rpm),
        "amps": language.number(row.amps or 0.0, 1),
        "limit": language.number(row.limit_amps or 0.0, 1),
    }
    if row.hot_amps is None:
        return language.text("chart.caption_decides", **values)
    warm = language.number(row.hot_amps, 1)
    return language.text("chart.caption_decides_warm", warm=warm, **values)


def verdict_section(
    material: Material, language: Language, *, before: Material | None = None
) -> Section:
    """Facts, verdict, curve with conditions beside it."""
    blocks: tuple[Block, ...] = (
        head_facts(material, language),
        verdict_box(material, language),
        Beside(
            left=(chart_picture(material, language, before),),
            right=(conditions(material, language),),
        ),
    )
    return Section("verdict", "", blocks)


def speeds_section(material: Material, language: Language) -> Section:
    """The table per speed and what to know besides."""
    blocks: list[Block] = []
    if material.rows:
        blocks.append(speeds_table(material, language))
    else:
        blocks.append(Items((language.say("speed.nothing", mark="missing"),)))
    return Section("speeds", language.text("section.speeds"), tuple(blocks))


def besides_section(material: Material, language: Language) -> Section | None:
    """The verdict's cautions."""
    cautions = texts_of(material.verdict, "cautions")
    if not cautions:
        return None
    typed = material.typed_names
    items = Items(tuple(in_language(language, caution, typed) for caution in cautions))
    return Section("besides", language.text("section.besides"), (items,))


def speeds_table(material: Material, language: Language) -> Table:
    """One row a speed."""
    margin = "margin_cold" if _cold_for_warm(material) else "margin"
    names = ("rpm", "amps", "limit", "outcome", margin, "rated", "chance")
    columns = [
        Column(language.say(f"speed.{name}"), align="left" if name == "outcome" else "right")
        for name in names
    ]
    return Table(
        caption=language.say("speed.caption"),
        columns=tuple(columns),
        rows=tuple(_row(row, language) for row in material.rows),
        note=Words(" ".join(_speeds_note(material, language))),
    )


def _cold_for_warm(material: Material) -> bool:
    """A cold unit met a warm rating: what heat takes was reckoned with."""
    return any(row.hot_amps is not None for row in material.rows)


def _speeds_note(material: Material, language: Language) -> Iterator[str]:
    """What the columns mean, and only what is so in this run."""
    cold = _cold_for_warm(material)
    yield language.text("speed.note")
    if cold:
        yield language.text("speed.note_heat")
    p_all = material.verdict.get("p_all")
    chance = language.chance(p_all if isinstance(p_all, float) else None)
    if not chance.mark:
        yield language.text("speed.note_all_cold" if cold else "speed.note_all", chance=chance.text)
    if any(_undecided_for_heat(row) for row in material.rows):
        yield language.text("speed.note_cold")
        if RUN_WARM in text_of(material.verdict, "what_next"):
            yield language.text("speed.note_run_warm")


def _row(row: SpeedRow, language: Language) -> tuple[Words, ...]:
    outcome, warm = _outcome(row, language), _warm_words(row, language)
    mark: Mark = {"pass": "good", "fail": "bad", "undecided": "doubt"}.get(row.outcome, "")  # type: ignore[assignment]
    return (
        language.amount(row.shaft_rpm, "rpm"),
        language.with_doubt(row.amps, row.half_amps),
        _or_dash(language.amount(row.limit_amps, decimals=1)),
        Words(f"{outcome.text}{warm}", lang=outcome.lang, mark=mark),
        _or_dash(language.amount(row.margin_amps, decimals=1, sign=True)),
        _or_dash(language.amount(row.rated_amps, decimals=1)),
        _or_dash(language.chance(_chance(row))),
    )


def _outcome(row: SpeedRow, language: Language) -> Words:
    """The outcome in a word; where it is undecided, what keeps it so."""
    if _undecided_for_heat(row):
        amps = language.number(row.hot_amps or 0.0, 1)
        return language.say("speed_undecided.cold", amps=amps)
    if row.outcome == "undecided" and row.why in ("not settled", "voltage"):
        return language.word_for("speed_undecided", row.why)
    return language.word_for("speed_outcome", row.outcome or "not judged")


def _undecided_for_heat(row: SpeedRow) -> bool:
    """Enough as it was measured cold, not surely enough after what heat takes."""
    return row.outcome == "undecided" and row.why == "cold" and row.hot_amps is not None


def _warm_words(row: SpeedRow, language: Language) -> str:
    if row.hot_amps is None or _undecided_for_heat(row):
        return ""
    return f" ({language.text('speed.warm', amps=language.number(row.hot_amps, 1))})"


def _chance(row: SpeedRow) -> float | None:
    """The chance that decided, cut to a tenth of a percent as the sentence has it."""
    chance = chance_decided(row.outcome, row.p_conform, row.p_conform_hot)
    return chance if chance is None or chance > 0.9995 else math.floor(1000.0 * chance) / 1000.0


def _or_dash(words: Words) -> Words:
    """Where nothing is to be judged, a dash says more than `not recorded`."""
    return Words("–", mark="missing") if words.mark == "missing" else words
