"""Under which conditions it was tested: in short beside the chart, and met or not met at length."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from statistics import fmean

from acquire.judge.acceptance import acceptance_words
from acquire.judging import state_of as judged_state
from acquire.report.blocks import Column, Fact, Facts, Mark, Section, Table, Words
from acquire.report.language import Language
from acquire.report.material import Material
from acquire.report.part_reference import reference_of, reference_short, reference_words
from acquire.report.recorded_words import in_language
from acquire.sweep.plan import load_kind, volts_within

SPEED_WITHIN_RPM = 5.0
SPEED_SOURCE = "ISO 8854:2012, 3.4"
AIR_C = (18.0, 28.0)
AIR_SOURCE = "23 ± 5 °C: ISO 8854:2012, 3.1; SAE J56"
PRESSURE_SOURCE = "ISO 8854:2012, 3.2"
NET_SOURCE = "SAE J56"
_IN_SHORT = ("test_volts", "state", "rated_at", "allowed")


def state_of(material: Material) -> str:
    """`warm` or `cold`, as the verdict takes it; empty where the method is not known."""
    if material.profiles is None:
        return ""
    return judged_state(material.profiles.method, material.warm_up)


def conditions(material: Material, language: Language) -> Facts:
    """The few lines beside the chart."""
    rows = [(name, words) for name, words in _lines(material, language) if words is not None]
    facts = tuple(Fact(language.say(f"condition.{name}"), (words,)) for name, words in rows)
    return Facts(facts, narrow=True)


def conditions_in_short(material: Material, language: Language) -> tuple[Fact, ...]:
    """Those without which a figure says nothing: voltage, warm or cold, what is allowed."""
    rows = [one for one in _lines(material, language) if one[0] in _IN_SHORT]
    return tuple(
        Fact(language.say(f"condition.{name}"), (words,))
        for name, words in rows
        if words is not None
    )


def _lines(material: Material, language: Language) -> Iterator[tuple[str, Words | None]]:
    rated, accept = material.rated, material.accept
    yield "test_volts", language.amount(material.test_volts, "V", 1)
    yield "volts_read", _span(_read(material, "volts"), "V", 2, language)
    yield "state", _state_words(material, language)
    yield "ambient", language.amount(ambient_c(material), "°C", 0)
    yield "case", _span(_read(material, "case_c"), "°C", 0, language)
    yield "current", _current_words(material, language)
    yield "load", _load_words(material, language)
    watch = reference_of(material)
    if watch is not None:
        yield "reference", reference_short(watch, language)
    if not instruments_told(material):
        yield "instruments", language.say("condition.instruments_not_told", mark="missing")
    if rated is not None:
        state = language.text(f"condition.{rated.state}")
        volts = language.number(rated.volts, 1)
        yield "rated_at", language.say("condition.rated_at_words", volts=volts, state=state)
    if accept is not None:
        yield "allowed", in_language(language, acceptance_words(accept))
        yield "decision", _decision_words(material, language)


def instruments_told(material: Material) -> bool:
    """True where the record says of any instrument which one it was, or how it was calibrated."""
    if any(one.identity or one.calibration for one in material.header.instruments.values()):
        return True
    if material.profiles is None:
        return False
    channels = material.profiles.rig.channels.values()
    return any(one.serial_number or one.calibration for one in channels)


def _decision_words(material: Material, language: Language) -> Words:
    accept = material.accept
    decision = material.verdict.get("decision") or (accept.decision if accept else "")
    if decision == "simple" or accept is None:
        return language.say("condition.simple")
    percent = language.short(100.0 * accept.confidence)
    return language.say("condition.guarded", percent=percent)


def _read(material: Material, name: str) -> list[float]:
    values = (getattr(reading.row.measured, name) for reading in material.readings)
    return [value for value in values if value is not None]


def _span(values: list[float], unit: str, decimals: int, language: Language) -> Words:
    if not values:
        return language.missing
    low, high = (language.number(end, decimals) for end in (min(values), max(values)))
    if low == high:
        return Words(f"{low} {unit}")
    return language.say("word.range", low=low, high=high, unit=unit)


def _state_words(material: Material, language: Language) -> Words:
    state, ran = state_of(material), material.warm_up
    if not state:
        return language.missing
    if state == "cold" or ran is None or material.profiles is None:
        return language.say("condition.state_cold")
    asked = material.profiles.method.warm_up
    key = "condition.state_warm_steady" if ran.steady else "condition.state_warm"
    minutes = language.number(ran.lasted_s / 60.0)
    rpm = language.number(asked.rpm) if asked else language.missing.text
    return language.say(key, minutes=minutes, rpm=rpm)


def _current_words(material: Material, language: Language) -> Words:
    if material.profiles is None:
        return language.missing
    from_bench = material.profiles.rig.rig.field_fed == "from bench"
    return language.say("condition.current_bench" if from_bench else "condition.current_net")


def _load_words(material: Material, language: Language) -> Words:
    if material.profiles is None:
        return language.missing
    load = material.profiles.rig.load
    if load is None:
        return language.say("condition.load_none")
    kind = load.driver if load.driver in ("hand", "modbus") else "holds"
    return language.say(f"condition.load_{kind}")


def ambient_c(material: Material) -> float | None:
    """Mean air temperature over the run [°C]; None where no instrument read it."""
    if material.profiles is None or "ambient_c" not in material.profiles.rig.channels:
        return None
    values = [
        reading.value
        for reading in material.run.samples()
        if reading.channel == "ambient_c" and reading.usable and reading.value is not None
    ]
    return fmean(values) if values else None


# ---- met and not met -------------------------------------------------------------------------


def conditions_section(material: Material, language: Language) -> Section:
    """Each condition: what was asked, what was found, met or not."""
    names = ("condition", "asked", "found", "met")
    table = Table(
        caption=language.say("met.caption"),
        columns=tuple(Column(language.say(f"met.{name}"), align="left") for name in names),
        rows=tuple(_met_rows(material, language)),
        note=language.say("met.note"),
    )
    return Section("conditions", language.text("section.conditions"), (table,))


def _met_rows(material: Material, language: Language) -> Iterator[tuple[Words, ...]]:
    yield _every_speed(material, language)
    yield _volts_row(material, language)
    yield _speed_row(material, language)
    yield _settled_row(material, language)
    yield _state_row(material, language)
    yield _air_row(material, language)
    yield _line(language, "pressure", _sourced(language.text("met.recorded"), PRESSURE_SOURCE),
                language.missing, None)  # fmt: skip
    yield _net_row(material, language)
    yield _zero_row(material, language)
    yield _calibration_row(material, language)
    watch = reference_of(material)
    if watch is not None:
        asked, found = language.say("met.as_it_was"), reference_words(watch, language)
        yield _line(language, "reference", asked, found, watch.in_control)


def _line(
    language: Language, name: str, asked: Words, found: Words, met: bool | None
) -> tuple[Words, ...]:
    key, mark = {True: ("yes", "good"), False: ("no", "bad"), None: ("unknown", "doubt")}[met]
    marked: Mark = mark  # type: ignore[assignment]
    return (
        language.say(f"met.{name}"),
        asked,
        found,
        language.say(f"met.{key}", mark=marked),
    )


def _sourced(words: str, source: str) -> Words:
    return Words(f"{words} ({source})")


def _every_speed(material: Material, language: Language) -> tuple[Words, ...]:
    rated = material.rated
    asked = language.say("met.all_measured")
    if rated is None:
        return _line(language, "every_speed", asked, language.missing, None)
    absent = [row.shaft_rpm for row in material.rows if row.outcome == "not measured"]
    there = {row.shaft_rpm for row in material.rows if row.amps is not None}
    absent += [rpm for rpm, _ in rated.points if rpm not in there and rpm not in absent]
    if material.verdict.get("at") == "measured speeds":
        absent = []
    found = language.say("met.all_measured")
    if absent:
        found = language.say("met.not_measured", speeds=_speeds(absent, language))
    return _line(language, "every_speed", asked, found, not absent)


def _speeds(speeds: list[float], language: Language) -> str:
    return ", ".join(language.number(rpm) for rpm in sorted(speeds))


def _volts_row(material: Material, language: Language) -> tuple[Words, ...]:
    volts, test = _read(material, "volts"), material.test_volts
    if material.profiles is None or test is None:
        return _line(language, "volts", language.missing, language.missing, None)
    within = volts_within(material.profiles.method, load_kind(material.profiles.rig))
    asked = language.say(
        "met.within", value=language.number(test, 1), within=language.short(within), unit="V"
    )
    if not volts:
        return _line(language, "volts", asked, language.missing, None)
    off = max(abs(value - test) for value in volts)
    found = language.say("met.at_most_off", value=language.number(off, 2), unit="V")
    return _line(language, "volts", asked, found, off <= within + 1e-9)


def _speed_row(material: Material, language: Language) -> tuple[Words, ...]:
    within = language.number(SPEED_WITHIN_RPM)
    unit = language.texts["unit.rpm"]
    asked = _sourced(f"±{within} {unit}", SPEED_SOURCE)
    pairs = [(r.row.measured.shaft_rpm, r.row.measured.set_rpm) for r in material.readings]
    offs = [abs(read - asked_rpm) for read, asked_rpm in pairs if read and asked_rpm]
    if not offs:
        return _line(language, "speed", asked, language.missing, None)
    found = language.say("met.at_most_off", value=language.number(max(offs), 1), unit=unit)
    return _line(language, "speed", asked, found, max(offs) <= SPEED_WITHIN_RPM)


def _settled_row(material: Material, language: Language) -> tuple[Words, ...]:
    asked = language.say("met.all_settled")
    measured = [r.row.measured for r in material.readings if r.row.measured.amps is not None]
    if not measured:
        return _line(language, "settled", asked, language.missing, None)
    unsettled = [one.set_rpm for one in measured if one.settled == "no" and one.set_rpm]
    found = asked
    if unsettled:
        found = language.say("met.not_settled", speeds=_speeds(unsettled, language))
    return _line(language, "settled", asked, found, not unsettled)


def _state_row(material: Material, language: Language) -> tuple[Words, ...]:
    rated, state = material.rated, state_of(material)
    if rated is None or not state:
        return _line(language, "state", language.missing, _state_words(material, language), None)
    asked = language.say(f"condition.{rated.state}")
    return _line(language, "state", asked, language.say(f"condition.{state}"), state == rated.state)


def _air_row(material: Material, language: Language) -> tuple[Words, ...]:
    asked, air_c = Words(AIR_SOURCE), ambient_c(material)
    met = None if air_c is None else AIR_C[0] <= air_c <= AIR_C[1]
    return _line(language, "ambient", asked, language.amount(air_c, "°C", 1), met)


def _net_row(material: Material, language: Language) -> tuple[Words, ...]:
    asked = _sourced(language.text("condition.current_net"), NET_SOURCE)
    if material.profiles is None:
        return _line(language, "net", asked, language.missing, None)
    met = material.profiles.rig.rig.field_fed == "by unit"
    return _line(language, "net", asked, _current_words(material, language), met)


def _zero_row(material: Material, language: Language) -> tuple[Words, ...]:
    asked = language.say("met.taken")
    zero = material.journal_data("zero taken")
    if zero is not None:
        return _line(language, "zero", asked, asked, True)
    refused = material.journal_data("zero not taken") is not None
    found = language.say("met.not_taken") if refused else language.missing
    return _line(language, "zero", asked, found, False if refused else None)


def _calibration_row(material: Material, language: Language) -> tuple[Words, ...]:
    asked = language.say("met.in_date")
    states = {name: in_date(material, name) for name in material.header.instruments}
    late = [name for name, ok in states.items() if ok is False]
    undated = [name for name, ok in states.items() if ok is None]
    if late:
        found = language.say("met.not_in_date", names=_names(late, language))
        return _line(language, "calibration", asked, found, False)
    if undated or not states:
        found = language.missing
        if undated:
            found = language.say("met.no_dates", names=_names(undated, language))
        return _line(language, "calibration", asked, found, None)
    return _line(language, "calibration", asked, asked, True)


def _names(channels: list[str], language: Language) -> str:
    return ", ".join(language.word_for("channel", name).text for name in channels)


def in_date(material: Material, channel: str) -> bool | None:
    """Whether it was in date on the bench's day of the test; None where no date is known."""
    facts = material.header.instruments.get(channel)
    due = (facts.calibration or {}).get("due") if facts else None
    try:
        return material.header.began_day <= date.fromisoformat(str(due))
    except ValueError:
        return None
