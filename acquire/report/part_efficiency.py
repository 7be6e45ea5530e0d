"""Efficiency where torque was measured: each speed, the weighted figure, and what was not met.

All of it rests on verdict.json and the readings: electrical power out is volts times amps as read,
shaft power is that over the efficiency recorded, torque is that over the speed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from acquire.judge.budget import HALF_WIDTH_K
from acquire.judge.efficiency import (
    FUELS,
    HOLD_S,
    NEAR,
    RATED_SHARE,
    RUNS,
    VOLTS,
    WEIGHTS,
    least_of,
)
from acquire.record.curve_table import Measured
from acquire.report.blocks import Block, Column, Items, Paragraph, Section, Table, Words
from acquire.report.language import Language
from acquire.report.material import Material, number_of

SOURCE = "(EU) 2017/785"
LEAST_SOURCE = "(EU) 2016/588, (EU) 2020/759, (EU) 2020/728"
VOLTS_WITHIN = 0.1
SHARE_WITHIN = 0.02
"""A current further from half the rated one, as a share of that, was not held there (common
practice, no source)."""


@dataclass(frozen=True, slots=True)
class _Point:
    """One speed."""

    shaft_rpm: float
    value: float
    u: float
    measured: Measured | None

    @property
    def out_w(self) -> float | None:
        """Electrical power out [W]."""
        one = self.measured
        return None if one is None or not one.volts or not one.amps else one.volts * one.amps

    @property
    def shaft_w(self) -> float | None:
        """Shaft power in [W]."""
        return None if self.out_w is None or not self.value else self.out_w / self.value

    @property
    def torque_nm(self) -> float | None:
        """Torque at the shaft [Nm]."""
        if self.shaft_w is None:
            return None
        return 60.0 * self.shaft_w / (2.0 * math.pi * self.shaft_rpm)

    @property
    def counted_at(self) -> float | None:
        """The speed of the decision that it stands for [rpm]."""
        near = (rpm for rpm in WEIGHTS if abs(self.shaft_rpm - rpm) <= NEAR * rpm)
        return next(near, None)


def efficiency_section(material: Material, language: Language) -> Section | None:
    """None where no torque was measured."""
    points = _points(material)
    if not points:
        return None
    blocks: list[Block] = [_table(points, language), Paragraph((_weighted(material, language),))]
    weighted = _figure(material)
    if weighted is not None:
        blocks.append(_least(weighted, language))
    blocks.append(Paragraph((language.say("efficiency.based_on", source=SOURCE),)))
    blocks.append(Items(tuple(_not_met(points, material, language))))
    return Section("efficiency", language.text("section.efficiency"), tuple(blocks))


def _recorded(material: Material) -> Mapping[str, object]:
    found = material.verdict.get("efficiency")
    return found if isinstance(found, Mapping) else {}


def _points(material: Material) -> list[_Point]:
    kept = _recorded(material).get("points")
    found = []
    for one in kept if isinstance(kept, list) else []:
        if not isinstance(one, Mapping):
            continue
        rpm, value = number_of(one, "shaft_rpm"), number_of(one, "efficiency")
        if rpm is not None and value is not None and rpm > 0:
            u = number_of(one, "u_efficiency") or 0.0
            found.append(_Point(rpm, value, u, _measured_at(material, rpm)))
    return sorted(found, key=lambda point: point.shaft_rpm)


def _measured_at(material: Material, shaft_rpm: float) -> Measured | None:
    there = [r.row.measured for r in material.readings if r.row.measured.shaft_rpm is not None]
    near = [one for one in there if abs((one.shaft_rpm or 0.0) - shaft_rpm) < 0.5]
    return near[0] if near else None


def _figure(material: Material) -> tuple[float, float] | None:
    weighted = _recorded(material).get("weighted")
    if not isinstance(weighted, Mapping):
        return None
    value, u = number_of(weighted, "efficiency"), number_of(weighted, "u_efficiency")
    return None if value is None else (value, u or 0.0)


def _percent(value: float, u: float, language: Language) -> str:
    return f"{language.with_doubt(100.0 * value, 100.0 * HALF_WIDTH_K * u).text}\u00a0%"


def _table(points: list[_Point], language: Language) -> Table:
    names = ("rpm", "torque", "shaft", "out", "value", "weight")
    return Table(
        caption=language.say("efficiency.caption"),
        columns=tuple(Column(language.say(f"efficiency.{name}")) for name in names),
        rows=tuple(_row(point, language) for point in points),
        note=language.say("efficiency.note"),
    )


def _row(point: _Point, language: Language) -> tuple[Words, ...]:
    weight = None if point.counted_at is None else WEIGHTS[point.counted_at]
    return (
        language.amount(point.shaft_rpm, "rpm"),
        language.amount(point.torque_nm, "Nm", 2),
        language.amount(point.shaft_w, "W"),
        language.amount(point.out_w, "W"),
        Words(_percent(point.value, point.u, language)),
        Words("–", mark="missing") if weight is None else language.amount(weight, decimals=2),
    )


def _weighted(material: Material, language: Language) -> Words:
    figure = _figure(material)
    if figure is not None:
        value = _percent(*figure, language)
        return language.say("efficiency.weighted", mark="strong", value=value)
    there = {point.counted_at for point in _points(material)}
    absent = [language.number(rpm) for rpm in WEIGHTS if rpm not in there]
    return language.say("efficiency.no_weighted", mark="missing", speeds=", ".join(absent))


def _least(weighted: tuple[float, float], language: Language) -> Table:
    names = ("fuel", "least", "against")
    return Table(
        caption=language.say("efficiency.least_caption"),
        columns=tuple(
            Column(language.say(f"efficiency.{n}"), align="right" if n == "least" else "left")
            for n in names
        ),
        rows=tuple(_least_row(fuel, weighted, language) for fuel in FUELS),
        note=language.say("efficiency.least_note", source=LEAST_SOURCE),
    )


def _least_row(fuel: str, weighted: tuple[float, float], language: Language) -> tuple[Words, ...]:
    value, half = weighted[0], HALF_WIDTH_K * weighted[1]
    least = least_of(fuel)
    where = "above" if value - half >= least else "below" if value + half < least else "close"
    return (
        language.word_for("fuel", fuel),
        Words(f"{language.number(100.0 * least, 1)}\u00a0%"),
        language.say(f"efficiency.{where}"),
    )


def _not_met(points: list[_Point], material: Material, language: Language) -> Iterator[Words]:
    """What the decision asks for, and this run has not done."""
    yield language.say("efficiency.not_runs", count=language.number(RUNS))
    counted = [(point.counted_at, point.measured) for point in points]
    taken = [(rpm, one) for rpm, one in counted if rpm is not None and one is not None]
    rated = material.rated.points[-1][1] if material.rated and material.rated.points else None
    yield from _not_the_current(taken, rated, language)
    off = [abs(one.volts - VOLTS) for _, one in taken if one.volts is not None]
    if off and max(off) > VOLTS_WITHIN:
        asked = language.number(VOLTS, 1)
        yield language.say("efficiency.not_volts", asked=asked, off=language.number(max(off), 2))
    short = [rpm for rpm, one in taken if (one.settle_s or 0.0) < HOLD_S[rpm]]
    if short:
        yield language.say(
            "efficiency.not_held",
            speeds=_speeds(short, language),
            seconds=", ".join(language.number(HOLD_S[rpm]) for rpm in short),
        )


def _not_the_current(
    taken: list[tuple[float, Measured]], rated: float | None, language: Language
) -> Iterator[Words]:
    if rated is None:
        yield language.say("efficiency.no_rated")
        return
    asked = RATED_SHARE * rated
    others = [
        (rpm, one.amps)
        for rpm, one in taken
        if one.amps is not None and abs(one.amps - asked) > SHARE_WITHIN * asked
    ]
    if others:
        said = (
            language.text("word.given", amount=f"{language.number(amps, 1)} A",
                          rpm=language.number(rpm))
            for rpm, amps in others
        )  # fmt: skip
        yield language.say(
            "efficiency.not_half", asked=language.number(asked, 1), found=", ".join(said)
        )


def _speeds(speeds: list[float], language: Language) -> str:
    return ", ".join(language.number(rpm) for rpm in speeds)
