"""A German report holds no English sentence, whatever was found and whyever a run was stopped."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from pathlib import Path
from types import SimpleNamespace

import pytest

from acquire.curve.fit import CurvePoint, fit_curve
from acquire.drive_look import DriveLook
from acquire.findings.curve_causes import _TEXTS
from acquire.guard import ClockWatch, Guard, GuardPlan, Trip
from acquire.guard_words import slip_words
from acquire.judge.circumstances import Circumstances
from acquire.judge.verdict import judge
from acquire.record.run_header import Job
from acquire.record.verify import verify
from acquire.report.language import language
from acquire.report.material import Material, material_of
from acquire.report.papers import report_paper
from acquire.report.recorded_words import in_language
from acquire.screens.app import STOP_KEYS
from acquire.signal_watch import WORDS
from acquire.sweep.plan import SpeedSource
from acquire.sweep.standstill import NO_BATTERY, STILL_TURNS
from drivers.errors import NoAnswer
from drivers.readings import Reading
from profiles.catalogue import entries, load_method, load_rated, load_rig, load_rule
from profiles.channels import CHANNELS
from profiles.rule import Accept
from tests.report.german_findings import FROZEN, findings, kinds
from tests.report.runs import GOOD, Order, make_run, settings
from tests.report.shown import shown

ENGLISH = re.compile(
    r"\b(the|of|and|is|are|were|been|with|without|from|than|that|this|which|where|when|it|its|"
    r"at|by|for|to|too|then|there|does|not|only|should|would|either|but|below|above)\b"
)
"""Words of English sentences that German does not have."""
TYPED = (
    r"meter of \w+ \(invented\)",  # who an instrument says it is
    r"14 V 45/90 A, small frame \(invented\)",  # the title of a rated curve
    r"brush holder renewed",
)
DE = language("de")


def _english(text: str) -> list[str]:
    for typed in TYPED:
        text = re.sub(typed, "", text)
    return [
        line for line in text.splitlines() if "{en}" in line or ENGLISH.search(line)
    ]  # fmt: skip


def _material(run: Path) -> Material:
    return material_of(run, settings(language="de"))


def _text(material: Material) -> str:
    return shown(report_paper(material))


# ---- findings --------------------------------------------------------------------------------


def test_every_kind_of_finding_is_said_in_german(tmp_path: Path) -> None:
    found = findings()
    assert {one.name for one in found} | {text.name for text in _TEXTS.values()} == kinds()
    material = _material(make_run(tmp_path))
    verdict = {**material.verdict, "findings": [one.to_data() for one in found]}
    text = _text(replace(material, run=replace(material.run, verdict=verdict)))
    assert text.count("Wie sicher: ") == len(found) > 30
    assert _english(text) == []


def test_what_is_said_of_every_cause_is_known(tmp_path: Path) -> None:
    for cause in _TEXTS.values():
        for words in (
            cause.words, cause.advice, cause.settle, cause.caution, cause.before_warm,
        ):  # fmt: skip
            assert not in_language(DE, words).lang, words
    for one in findings():
        assert not one.advice or not in_language(DE, one.advice).lang, one.advice
    assert not in_language(DE, "how well these readings tell the two apart").lang


def test_figures_of_findings_have_decimal_commas() -> None:
    sentence = "The battery alone stands at 12.70 V."
    assert in_language(DE, sentence).text == "Die Batterie allein steht bei 12,70 V."
    slip = next(one for one in findings() if one.name == "belt slip")
    assert "um 14,0 % zurück" in in_language(DE, slip.evidence[0]).text


# ---- why it was stopped ----------------------------------------------------------------------


def _plan(**more: float) -> GuardPlan:
    return GuardPlan(
        highest=dict.fromkeys(CHANNELS, 10.0),
        watched=frozenset({"amps"}),
        silent_s=3.0,
        slip_percent_max=6.0,
        speed_ratio=3.0,
        load_on_s_max=more.get("load_on_s_max"),
        where={"amps": "socket://127.0.0.1:4002"} if more.get("where") else {},
        set_by={
            name: f"limits.{name}, bench.toml"
            for name in (*CHANNELS, "silent_s", "slip_percent_max", "load_on_s_max")
        },
    )


def _trips() -> Iterator[Trip]:
    """All that the guard may say, as it says it."""
    found: list[Trip | None] = [Guard(_plan()).see(Reading(name, 1.0, 1234.5)) for name in CHANNELS]
    for where in (0.0, 1.0):
        silent = Guard(_plan(where=where))
        silent.see(Reading("amps", 1.0, 5.0))
        silent.told_to_run(1.0)
        found.append(silent.tick(9.0))
    together = Guard(replace(_plan(), watched=frozenset({"amps", "volts", "drive_rpm"})))
    together.told_to_run(1.0)
    found.append(together.tick(9.0))
    pile = Guard(_plan(load_on_s_max=15.0))
    pile.load_is_on(1.0, on=True)
    found.append(pile.tick(17.0))
    found.append(Guard(replace(_plan(), set_by={})).see(Reading("volts", 1.0, 99.0)))
    sources: tuple[SpeedSource, ...] = ("shaft_rpm", "w_hz", "engine_rpm")
    for source in sources:
        found += [_turning(0.0, 500.0, source=source), _turning(1300.0, 500.0, source=source)]
        found.append(_turning(0.0, 500.0, source=source, reads_drive=False))
    found.append(_turning(3000.0, 1000.0, 1500.0))
    found.append(_turning(700.0, 500.0, reads_drive=False))
    found += _asked()
    found.append(ClockWatch(0.0, 0.0).tick(1.0, 50.0))
    assert all(found)
    yield from (trip for trip in found if trip is not None)


def _turning(
    shaft_rpm: float,
    drive_rpm: float,
    told_rpm: float | None = None,
    source: SpeedSource = "shaft_rpm",
    *,
    reads_drive: bool = True,
) -> Trip | None:
    guard = Guard(replace(_plan(), highest={}, speed_source=source, reads_drive=reads_drive))
    guard.told_to_run(0.0)
    guard.told_speed(0.0, drive_rpm * 3.0 if told_rpm is None else told_rpm)
    for k in range(1, 400):
        t_s = 0.1 * k
        for name, value in (("drive_rpm", drive_rpm), (source, shaft_rpm)):
            trip = guard.see(Reading(name, t_s, value))
            if trip is not None:
                return trip
    return None


class _Answered:
    """What a drive says of its run command."""

    def __init__(self, result: bool | None) -> None:
        self.done, self.error, self.result = result is not None, None, result


def _asked() -> Iterator[Trip | None]:
    """Of a drive that is not read: it does not answer, or was stopped by somebody else."""
    for answers in ([None] * 9, [True, False]):
        left = iter([_Answered(one) for one in answers])
        drive = SimpleNamespace(begin_look=lambda left=left: next(left))
        by = "limits.silent_s, bench.toml"
        look = DriveLook(drive, every_s=1.0, silent_s=3.0, where="COM3", set_by=by)
        look.told_to_run(0.0)
        yield next((trip for t_s in range(1, 9) if (trip := look.turn(float(t_s)))), None)


def test_the_guard_was_made_to_say_all_it_can() -> None:
    said = {trip.kind for trip in _trips()}
    assert said == {"limit", "silent", "stall", "drive", "slip", "load", "clock"}


REASONS = [
    *(trip.words for trip in _trips()),
    *STOP_KEYS.values(),
    "SIGINT was received",
    FROZEN,
    "The current reads -71.7 A at 1500 rpm: the clamp or the shunt's leads are the wrong way round,"
    " or current flows into the unit. Stand still, turn the clamp, and test anew; this run is not"
    " to be gone on with.",
    STILL_TURNS,
    NO_BATTERY.format(0.02),
    slip_words("shaft_rpm", slip_percent=-78.4, allowed=" (allowed 6 %)"),
    *WORDS.values(),
    "the operator typed stop",
    "nobody types readings any more",
    "the program was left.",
    "the program ends",
    "The readings were not looked at for 5 s: the disk, or what else holds this program up, does"
    " not answer.",
    "set shaft rpm: "
    + str(
        NoAnswer(
            "drive",
            "no answer to '06' from 127.0.0.1 port 4004 within 0.5 s (nothing came).",
            what_to_do="Is it switched on? Check cable, baud rate, address and terminator.",
        )
    ),
]


@pytest.mark.parametrize("words", REASONS)
def test_every_stop_reason_is_said_in_german(words: str) -> None:
    said = in_language(DE, f"Stopped: {words.rstrip('.')}. 2 speeds judged so far.")
    assert not said.lang, words
    assert not ENGLISH.search(said.text), said.text
    assert said.text.startswith("Abgebrochen: ")
    assert not re.search(r"\d\.\d+ (?!port)", said.text.replace("127.0.0.1", "")), said.text


def test_the_report_of_a_stopped_run_is_german_throughout(tmp_path: Path) -> None:
    for number, words in enumerate((REASONS[0], REASONS[-1], "the operator typed stop")):
        run = make_run(tmp_path / str(number), Order(stopped=words))
        text = _text(_material(run))
        assert "*** ! Abgebrochen ***" in text
        assert _english(text) == []


# ---- all other pages -------------------------------------------------------------------------


@pytest.mark.parametrize("method", ["rebuild-12v", "rebuild-24v", "quick", "warm", "fine"])
@pytest.mark.parametrize("rule", ["within-10-percent", None])
def test_runs_by_the_shipped_methods_are_german_throughout(
    tmp_path: Path, method: str, rule: str | None
) -> None:
    answers = {} if method.startswith("rebuild-24") else Order().answers
    known = {check.name for check in load_method(method).profile.check}
    order = Order(
        method=method,
        rule=rule,
        amps={**GOOD, 6000.0: 80.7} if rule else dict(GOOD),
        answers={name: value for name, value in answers.items() if name in known},
        job=Job(number="1044"),
    )
    text = _text(_material(make_run(tmp_path, order)))
    assert _english(text) == []


def test_a_failed_check_is_named_in_german_and_one_left_out_too(tmp_path: Path) -> None:
    failed = {**Order().answers, "charge lamp": False, "ripple": 0.91}
    text = _text(_material(make_run(tmp_path / "failed", Order(answers=failed))))
    said = "Ladekontrolllampe: nein; Welligkeit: 0,91 V, verlangt: höchstens 0,5 V."
    assert f"*** ! Nicht bestanden ***\n{said}" in text
    assert _english(text) == []
    text = _text(_material(make_run(tmp_path / "no curve", Order(answers=failed, rated=None))))
    assert "Die Kurve: Es wurde keine Nennkurve angegeben." in text
    assert _english(text) == []
    left_out = {name: value for name, value in failed.items() if name == "remarks"}
    text = _text(_material(make_run(tmp_path / "left", Order(answers=left_out))))
    assert "Isolation des Läufers" in text
    assert _english(text) == []


def test_why_a_run_was_not_judged_is_said_in_german() -> None:
    profile = load_rated("fast-frame-14v-180a").profile
    bare = profile.rated_curve()
    accept = Accept(below_percent=10)
    verdicts = [
        judge([], rated=None, accept=accept),
        judge([], rated=None, accept=accept, circumstances=Circumstances(load_off=True)),
        judge([], rated=replace(bare, points=()), accept=accept),
        judge([], rated=replace(bare, regulator="commanded", command=None), accept=accept),
        judge([], rated=replace(bare, regulator="internal", command=None), accept=None),
    ]
    assert len({verdict.reason for verdict in verdicts}) == 5
    cautions = [caution for verdict in verdicts for caution in verdict.cautions]
    assert len(cautions) == 1
    for words in [*(verdict.reason for verdict in verdicts), *cautions]:
        said = in_language(DE, words)
        assert not said.lang, words
        assert not ENGLISH.search(said.text), said.text


def test_every_doubt_of_a_fitted_curve_is_said_in_german() -> None:
    curves = [
        [(1500.0, 44.0), (6000.0, 90.0)],
        [(1500.0, 44.0), (3000.0, 75.0), (6000.0, 90.0)],
        [(3000.0, 75.0), (4500.0, 84.0), (6000.0, 90.0), (7000.0, 92.0)],
        [(1200.0, 10.0), (1400.0, 25.0), (1500.0, 32.0), (1600.0, 36.0)],
        [(1500.0, 44.0), (2000.0, 60.0), (3000.0, 80.0), (4000.0, 80.0), (6000.0, 80.0)],
        [(1500.0, 44.0), (2000.0, 5.0), (3000.0, 80.0), (4500.0, 20.0), (6000.0, 90.0)],
        [(1500.0, 44.0), (2000.0, 59.0), (3000.0, 60.0), (4500.0, 84.0), (6000.0, 90.0)],
    ]
    said = set()
    for points, u_amps in product(curves, (0.3, None)):
        fit = fit_curve([CurvePoint(rpm, amps, u_amps, 1.0) for rpm, amps in points])
        said |= {*fit.warnings, *fit.warnings_at([90.0, 900.0, 1499.5, 30_000.0])}
    assert len(said) > 10
    assert [one for one in said if in_language(DE, one).lang] == []
    steep = in_language(DE, "At 1499.7, 1999.4 rpm no point has measured the steep part.").text
    assert steep == "Bei 1499,7, 1999,4 min⁻¹ hat kein Punkt den steilen Teil gemessen."


def test_names_that_the_shop_typed_stay_as_typed() -> None:
    own = frozenset({"ripple"})
    said = "Every speed is good, but not done: ripple, my own check."
    assert in_language(DE, said).text.endswith("nicht gemacht: Welligkeit, my own check.")
    assert in_language(DE, said, own).text.endswith("nicht gemacht: ripple, my own check.")


def test_every_shipped_method_rule_rig_and_check_has_a_german_name() -> None:
    names = [load_method(one.name).profile.title for one in entries("methods")]
    names += [load_rule(one.name).profile.title for one in entries("rules")]
    names += [load_rig(one.name).profile.title for one in entries("rigs")]
    sources = [load_rule(one.name).profile.source or "" for one in entries("rules")]
    for one in entries("methods"):
        names += [check.name for check in load_method(one.name).profile.check]
        sources += [check.source or "" for check in load_method(one.name).profile.check]
    assert [name for name in names if in_language(DE, name).lang] == []
    assert [source for source in sources if in_language(DE, source).lang] == []


def test_a_broken_seal_is_told_in_german(tmp_path: Path) -> None:
    run = make_run(tmp_path)
    (run / "curve.csv").write_text("step\n", encoding="utf-8")
    samples = run / "samples.csv"
    samples.write_bytes(samples.read_bytes() + b"9,amps,1.0,ok\n")
    (run / "attachments").mkdir()
    (run / "attachments" / "note.txt").write_text("x", encoding="utf-8")
    material = replace(_material(make_run(tmp_path / "whole")), checked=verify(run))
    assert len(material.checked.problems) >= 3
    assert _english(_text(material)) == []


def test_the_english_report_says_what_the_record_says(tmp_path: Path) -> None:
    english = language("en")
    run = make_run(tmp_path)
    text = shown(report_paper(material_of(run, settings())))
    assert len(_english(text)) > 20, "the look for English words finds them"
    for one in findings():
        for text in (one.words, *one.evidence, one.rests_on, one.what_would_settle, one.caution):
            assert in_language(english, text).text == text
