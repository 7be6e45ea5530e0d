"""Before and after the rebuild: the change at each speed with its doubt."""

from __future__ import annotations

from typing import TYPE_CHECKING

from acquire.judge.budget import HALF_WIDTH_K
from acquire.report.blocks import Block, Column, Items, Mark, Paragraph, Section, Table, Words
from acquire.report.language import Language
from acquire.report.material import Material
from acquire.report.part_conditions import state_of

if TYPE_CHECKING:
    from acquire.curve.compare import Change


def before_section(material: Material, before: Material, language: Language) -> Section:
    """Table of the changes, and what makes the two runs different besides."""
    from acquire.comparing import compare_runs

    result = compare_runs(before.run, material.run)
    cautions = _cautions(material, before, language)
    blocks: list[Block] = [Items(cautions)] if cautions else []
    if result.changes.points:
        blocks.append(_table(result.changes.points, before, language))
        key = "compare.same" if result.same_instruments else "compare.other_instruments"
        blocks.append(Paragraph((language.say(key, mark="small"),)))
    else:
        blocks.append(Paragraph((language.say("compare.no_speeds", mark="missing"),)))
    for key, speeds in (
        ("compare.only_before", result.changes.only_before_rpm),
        ("compare.only_after", result.changes.only_after_rpm),
    ):
        if speeds:
            said = ", ".join(language.number(rpm) for rpm in speeds)
            blocks.append(Paragraph((language.say(key, speeds=said),)))
    title = language.text("section.before_after")
    return Section("before-after", title, tuple(blocks))


def _cautions(material: Material, before: Material, language: Language) -> tuple[Words, ...]:
    from acquire.comparing import other_units

    said = []
    names = other_units(before.header, material.header)
    if names is not None:
        units = {"before": names[0], "after": names[1]}
        said.append(language.say("compare.other_unit", mark="bad", **units))
    now, then = material.test_volts, before.test_volts
    if now is not None and then is not None and abs(now - then) > 1e-9:
        volts = {"before": language.short(then, 4), "after": language.short(now, 4)}
        said.append(language.say("compare.other_volts", mark="bad", **volts))
    then_state, now_state = state_of(before), state_of(material)
    if then_state and now_state and then_state != now_state:
        said.append(language.say(f"compare.{then_state}_before", mark="bad"))
    if not before.checked.sealed:
        said.append(language.say("compare.before_not_sealed", mark="bad"))
    if before.header.simulated:
        said.append(language.say("compare.before_simulated", mark="bad"))
    return tuple(said)


def _table(changes: tuple[Change, ...], before: Material, language: Language) -> Table:
    names = ("rpm", "before", "after", "change", "outcome")
    note = language.say(
        "compare.note",
        run=before.header.run_id,
        when=language.moment(before.header.began_utc, before.header.utc_offset).text,
        outcome=language.word_for("outcome", before.outcome).text,
    )
    return Table(
        caption=language.say("compare.caption"),
        columns=tuple(
            Column(language.say(f"compare.{n}"), align="left" if n == "outcome" else "right")
            for n in names
        ),
        rows=tuple(_row(change, language) for change in changes),
        note=note,
    )


def _row(change: Change, language: Language) -> tuple[Words, ...]:
    u = change.u_change_amps
    half = "" if u is None else f" ±{language.number(HALF_WIDTH_K * u, 1)}"
    return (
        language.amount(change.shaft_rpm, "rpm"),
        language.amount(change.before_amps, decimals=1),
        language.amount(change.after_amps, decimals=1),
        Words(language.number(change.change_amps, 1, sign=True) + half),
        _outcome(change, language),
    )


def _outcome(change: Change, language: Language) -> Words:
    if change.significant is None:
        return language.say("compare.unknown", mark="doubt")
    if not change.significant:
        return language.say("compare.within")
    more = change.change_amps > 0.0
    mark: Mark = "good" if more else "bad"
    return language.say("compare.more" if more else "compare.less", mark=mark)
