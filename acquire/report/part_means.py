"""With what and by which rules it was tested: instruments, rig, method, acceptance, decision."""

from __future__ import annotations

from collections.abc import Iterator

from acquire.judge.acceptance import acceptance_words
from acquire.judging import DEFAULT_RULE
from acquire.record.run_header import Snapshot
from acquire.report.blocks import Column, Fact, Facts, Items, Mark, Section, Table, Words
from acquire.report.language import Language
from acquire.report.material import Material, number_of
from acquire.report.part_conditions import in_date
from acquire.report.recorded_words import in_language, name_in_language
from profiles.accuracy import Accuracy
from profiles.channels import CHANNELS
from profiles.instrument import Channel

RULE_OF_METHOD = "method: "
_HEADS = ("channel", "model", "serial", "calibrated", "due", "certificate", "accuracy")


def instruments_section(material: Material, language: Language) -> Section:
    """Each channel's instrument, its serial number, calibration and accuracy."""
    channels: dict[str, Channel] = {}
    if material.profiles is not None:
        channels = {str(name): one for name, one in material.profiles.rig.channels.items()}
    names = list(dict.fromkeys([*channels, *material.header.instruments]))
    title = language.text("section.instruments")
    if not names:
        return Section("instruments", title, (Items((language.say("instrument.none"),)),))
    rows = [_row(material, name, channels.get(name), language) for name in names]
    told = [k for k in range(len(_HEADS)) if any(row[k].mark != "missing" for row in rows)]
    of_none = [
        language.text(f"instrument.{name}") for k, name in enumerate(_HEADS) if k not in told
    ]
    said = language.say("instrument.of_none", names=", ".join(of_none)) if of_none else None
    table = Table(
        caption=language.say("instrument.caption"),
        columns=tuple(Column(language.say(f"instrument.{_HEADS[k]}"), align="left") for k in told),
        rows=tuple(tuple(row[k] for k in told) for row in rows),
        note=said,
    )
    return Section("instruments", title, (table,))


def _row(
    material: Material, name: str, channel: Channel | None, language: Language
) -> tuple[Words, ...]:
    facts = material.header.instruments.get(name)
    calibration = (facts.calibration if facts else None) or {}
    certificate = calibration.get("certificate")
    return (
        language.word_for("channel", name),
        _who(channel, facts.identity if facts else None, language),
        _words(channel.serial_number if channel else None, language),
        language.day(_text(calibration.get("on"))),
        _due(material, name, _text(calibration.get("due")), language),
        _words(_text(certificate), language),
        _accuracy(name, channel.accuracy if channel else None, language),
    )


def _text(value: object) -> str | None:
    return None if value is None else str(value)


def _words(value: str | None, language: Language) -> Words:
    return Words(value) if value else language.missing


def _who(channel: Channel | None, identity: str | None, language: Language) -> Words:
    if channel is not None and getattr(channel, "driver", "") == "hand":
        typed = language.text("instrument.typed")
        return Words(f"{channel.model} ({typed})" if channel.model else typed)
    said = [word for word in (channel.model if channel else None, identity) if word]
    return _words("; ".join(said), language)


def _due(material: Material, name: str, due: str | None, language: Language) -> Words:
    words, ok = language.day(due), in_date(material, name)
    if ok is None:
        return words
    mark: Mark = "good" if ok else "bad"
    state = language.text("instrument.in_date" if ok else "instrument.overdue")
    return Words(f"{words.text}, {state}", mark=mark)


def _accuracy(name: str, accuracy: Accuracy | None, language: Language) -> Words:
    if accuracy is None:
        return language.missing
    unit = CHANNELS[name].unit_of_measure if name in CHANNELS else ""
    unit = language.texts.get(f"unit.{unit}", unit)
    parts = [
        language.text(f"instrument.{key}", **values)
        for key, amount, values in _accuracy_parts(accuracy, unit, language)
        if amount
    ]
    return (
        Words("±(" + language.text("instrument.plus").join(parts) + ")")
        if parts
        else (language.missing)
    )


def _accuracy_parts(
    accuracy: Accuracy, unit: str, language: Language
) -> Iterator[tuple[str, float, dict[str, str]]]:
    def figure(value: float | None) -> str:
        return language.short(value or 0.0, 4)

    share, of_range = accuracy.percent_of_reading, accuracy.percent_of_range
    yield "percent_of_reading", share, {"value": figure(share)}
    values = {"value": figure(of_range), "range": figure(accuracy.range), "unit": unit}
    yield "percent_of_range", of_range, values
    steps = {"resolution": figure(accuracy.resolution), "unit": unit}
    yield "digits", accuracy.digits, {"value": figure(accuracy.digits), **steps}
    yield "absolute", accuracy.absolute, {"value": figure(accuracy.absolute), "unit": unit}


# ---- rig, method, rule -----------------------------------------------------------------------


def means_section(material: Material, language: Language) -> Section:
    """Rig, method, acceptance rule and decision rule with their sources."""
    rows = [*_rig(material, language), *_method(material, language), *_rule(material, language)]
    rows.append(("program", Words(material.header.program)))
    facts = Facts(tuple(Fact(language.say(f"means.{name}"), (words,)) for name, words in rows))
    return Section("means", language.text("section.means"), (facts,))


def _rig(material: Material, language: Language) -> Iterator[tuple[str, Words]]:
    header = material.header
    yield "rig", _title(header.rig, language)
    if material.profiles is None:
        return
    rig = material.profiles.rig
    if rig.rig.pulley is None:
        yield "pulley", language.say("means.direct")
    else:
        yield (
            "pulley",
            language.say(
                "means.pulley_words" if rig.drive else "means.pulley_words_engine",
                drive=language.short(rig.rig.pulley.drive_mm, 4),
                unit=language.short(rig.rig.pulley.alternator_mm, 4),
                ratio=language.short(rig.ratio, 4),
            ),
        )
    yield "drive", language.say("means.drive_program" if rig.drive else "means.drive_hand")


def _title(profile: Snapshot | None, language: Language) -> Words:
    """Of a shipped profile in the paper's language; one that people wrote as written."""
    if profile is None:
        return language.missing
    return Words(name_in_language(language, profile.title, shipped=profile.origin == "shipped"))


def _method(material: Material, language: Language) -> Iterator[tuple[str, Words]]:
    header = material.header
    yield "method", _title(header.method, language)
    if material.profiles is None:
        return
    method = material.profiles.method
    if method.note:
        yield "method_source", Words(in_language(language, method.note).text)
    warm_up, settle = method.warm_up, method.settle
    if warm_up is None:
        yield "warm_up", language.say("means.warm_up_none")
    else:
        minutes = language.number(warm_up.for_s / 60.0)
        rpm = language.number(warm_up.rpm)
        yield "warm_up", language.say("means.warm_up_words", minutes=minutes, rpm=rpm)
    yield (
        "settling",
        language.say(
            "means.settling_words",
            horizon=language.short(settle.horizon_s),
            percent=language.short(settle.amps_percent),
            give_up=language.short(settle.give_up_s, 4),
        ),
    )


def _rule(material: Material, language: Language) -> Iterator[tuple[str, Words]]:
    rated, accept = material.rated, material.accept
    if rated is None or accept is None or material.profiles is None:
        return
    yield "rated_source", _source(rated.source or "", language)
    title, source = _rule_title(material, language)
    words = in_language(language, acceptance_words(accept)).text
    yield "rule", Words(f"{title}: {words}" if title else words)
    if source.startswith(RULE_OF_METHOD):
        own = _title(material.header.method, language).text
        yield "rule_source", language.say("means.rule_of_method", words=own)
    else:
        yield "rule_source", _source(source, language)
    decision = material.verdict.get("decision") or accept.decision
    percent = language.short(100.0 * accept.confidence)
    key = "simple" if decision == "simple" else "guarded"
    yield "decision", language.say(f"means.decision_{key}", percent=percent)
    yield "limits_at", _limits_at(material, language)


def _source(source: str, language: Language) -> Words:
    return Words(in_language(language, source).text) if source else language.missing


def _rule_title(material: Material, language: Language) -> tuple[str, str]:
    """Title and source of the rule in force: the run's own, else the method's, else the default."""
    profiles = material.profiles
    if profiles is None:
        return "", ""
    if profiles.rule is not None:
        return _title(material.header.rule, language).text, profiles.rule.source or ""
    if profiles.method.accept is not None:
        return "", RULE_OF_METHOD + profiles.method.title
    from profiles.catalogue import load_rule

    rule = load_rule(DEFAULT_RULE).profile
    title = name_in_language(language, rule.title, shipped=True)
    return title, rule.source or ""


def _limits_at(material: Material, language: Language) -> Words:
    if material.verdict.get("at") != "measured speeds":
        return language.say("means.rated_speeds")
    words = language.text("means.measured_speeds")
    lenient = number_of(material.verdict, "lenient_amps")
    if lenient is not None:
        words += f"; {language.text('means.lenient', amps=language.number(lenient, 1))}"
    return Words(words)
