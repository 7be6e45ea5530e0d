"""Looks at a bench that is not there: for pictures of the pages and for tests of their layout.

Every name and figure is invented.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from acquire.record.seal_words import SealWords
from acquire.screens.curve_facts import Measured, picture_of
from acquire.screens.figures_facts import Figure
from acquire.screens.past_facts import PastFacts
from acquire.screens.ready_facts import Field, Live, ReadyFacts
from acquire.screens.result_facts import ResultFacts, ResultLine
from acquire.screens.sweep_facts import Margin, StepLine, SweepFacts, Typing
from acquire.shelf.entry import COLUMNS, RunEntry
from acquire.shelf.pairs import Partners
from profiles.catalogue import load_rated, load_rule

if TYPE_CHECKING:
    from acquire.curve.fit import CurveFit

RATED = load_rated("small-frame-14v-90a").profile.rated_curve()
ACCEPT = load_rule("within-10-percent").profile.accept
SPEEDS = (1500.0, 2000.0, 3000.0, 6000.0)
BEFORE = (Measured(1500, 33.2, 0.4), Measured(2000, 45.9, 0.4), Measured(3000, 55.1, 0.5),
          Measured(6000, 60.4, 0.6))  # fmt: skip
POINTS = (Measured(1500, 47.1, 0.25), Measured(2000, 62.9, 0.3))


def ready(*, is_ready: bool = False) -> ReadyFacts:
    """A driven rig before a run."""
    missing = (
        ()
        if is_ready
        else (
            "Tick the wiring of this unit.",
            "No live output voltage (stale 4 s): look at its cable and plug.",
        )
    )
    volts = (
        Live(Figure("volts", "output voltage", "12.64", "V", "", ""), "0.1 s")
        if is_ready
        else Live(Figure("volts", "output voltage", None, "V", "!", "stale 4 s"), "4.2 s")
    )
    wiring = ("B+ and earth cables tight", "battery charged and connected in parallel",
              "turns clockwise, seen from the drive end", "lamp on D+", "ignition")  # fmt: skip
    return ReadyFacts(
        missing=missing,
        fields=(
            Field("[u]nit", "unit", "grey case, 6-groove"),
            Field("[s]erial", "serial", "A-17"),
            Field("[j]ob", "job", "J-1044"),
            Field("s[t]age", "stage", "after"),
            Field("[o]perator", "operator", "Nell"),
            Field("rate[d]", "rated", RATED.title, "warm, at 13.5 V"),
            Field("[r]ig", "rig", "Bench 1", "driven"),
            Field("[m]ethod", "method", "Quick sweep, cold", "1500 2000 3000 6000 rpm"),
            Field("[a]llowed", "rule", "at most 10 % below rated", "doubt counts against passing"),
        ),
        live=(
            Live(Figure("shaft_rpm", "shaft speed", "0", "rpm", "", ""), "0.1 s"),
            Live(Figure("amps", "output current", "0.1", "A", "", ""), "0.1 s"),
            volts,
            Live(Figure("case_c", "case", "22", "°C", "", ""), "0.8 s"),
        ),
        rig_state="open",
        notes=(
            ("=", "good", "zero +0.12 A (scatter 0.03 A)"),
            ("~", "warn", "calibration of volts: was due on 2026-09-01. The record says so; have"
                          " it calibrated."),
        ),
        wiring=tuple((line, is_ready or number < 2) for number, line in enumerate(wiring)),
        cautions_accepted=True,
        earlier="Earlier run of A-17: 2026-11-20, before, fail; drawn beside this one.",
        interrupted=""
        if is_ready
        else "The run of B-9 (2026-11-24) did not end; 1 more.",
    )  # fmt: skip


NOTE = (
    "The bank is too small at 6000 rpm: with all its steps closed (35 A) the voltage stands at"
    " 14.36 V, not 13.5 V. The unit could give more; add resistors, or test it on a larger bank."
)


STOPPING = "Stopping: the space bar was pressed."
LOADING = "The pile is closed at 2000 rpm. Set it to 13.5 V."
HOLDING = "Holding at 2000 rpm. Output current still rises 0.3 A in 10 s; about 6 s more."


def sweep(
    *, hands: str = "", typing: bool = False, stopping: bool = False, notes: tuple[str, ...] = ()
) -> SweepFacts:
    """The second of four speeds, with an earlier run of the unit beside it."""
    steps = (
        StepLine(1500, "done", 47.1, 0.5, 40.5, 45.0, 33.2, 13.5, 48, 6, "above", "="),
        StepLine(2000, "now", 62.9, None, 54.0, 60.0, 45.9),
        StepLine(3000, "to do", None, None, 69.3, 77.0, 55.1),
        StepLine(6000, "to do", None, None, 81.0, 90.0, 60.4),
    )
    figures = (
        Figure("shaft_rpm", "shaft speed", "2003", "rpm", "=", "still"),
        Figure("amps", "output current", "63.1", "A", "^", "rising 0.3"),
        Figure("volts", "output voltage", "13.52", "V", "=", "still"),
        Figure("case_c", "case", None, "°C", "!", "stale 5 s"),
    )
    stops = (("drive off, speed 0", True), ("shaft below 600 rpm", True)) if stopping else ()
    return SweepFacts(
        sentence=STOPPING if stopping else LOADING if hands else HOLDING,
        title="A-17 grey case, 6-groove after",
        figures=figures,
        side=(Figure("drive_rpm", "motor speed", "1125", "rpm", "=", "still"),),
        hands=hands,
        hands_detail="0.42 V too high" if hands else "",
        typing=Typing("Type the output current at 2000 rpm:", "A", "62.", "") if typing else None,
        load="load on 6 of 15 s" if hands else "load on 6 s",
        steps=steps,
        picture=picture_of(speeds=SPEEDS, rated=RATED, accept=ACCEPT, points=POINTS[:1],
                           before=BEFORE, now=(2003.0, 63.1)),
        margins=(Margin("voltage", "13.5", "16 V", 0.845), Margin("current", "63.1", "200 A", 0.32),
                 Margin("case temperature", "61", "140 °C", 0.43)),
        progress="2 of 4 · about 40 s left",
        notes=notes,
        stopping=stops,
        is_stopping=stopping,
    )  # fmt: skip


def check() -> SweepFacts:
    """All speeds are measured; the longest question of a shipped method is asked at its speed."""
    return replace(
        sweep(),
        sentence="Held at 4000 rpm for the check: regulating voltage. 142 s left.",
        typing=Typing(
            "Voltage at B+ with a light load, about 10 % of rated (light, about 10 % of rated):"
            " [V]", "", "14.",
            hint="An empty line leaves it out; in 142 s the sweep goes on without it.",
            takes_letters=True,
        ),
        can_hold=False,
        progress="all 4 measured",
    )  # fmt: skip


def result() -> ResultFacts:
    """A verdict with doubt, checks and an earlier run."""
    amps = (47.1, 62.9, 73.8, 81.4)
    allowed = (40.5, 54.0, 69.3, 81.0)
    rated = (45.0, 60.0, 77.0, 90.0)
    sure = (0.9999, 0.9999, 0.998, 0.71)
    outcomes = ("pass", "pass", "pass", "undecided")
    lines = tuple(
        ResultLine(rpm, a, 0.9, r, lim, a - lim, p, o, b.amps)
        for rpm, a, r, lim, p, o, b in zip(
            SPEEDS, amps, rated, allowed, sure, outcomes, BEFORE, strict=True
        )
    )
    points = [Measured(rpm, a, 0.45) for rpm, a in zip(SPEEDS, amps, strict=True)]
    return ResultFacts(
        outcome="undecided",
        sentence="Undecided. At 6000 rpm 81.4 A against 81.0 A allowed is inside the doubt of"
        " ±0.9 A.",
        what_next="Zero the clamp and hold longer, or read it on a shunt.",
        title="A-17 · grey case, 6-groove · after · J-1044",
        began="2026-11-25 11:15 (UTC+1)",
        lines=lines,
        picture=picture_of(speeds=SPEEDS, rated=RATED, accept=ACCEPT, points=points, before=BEFORE,
                           fit=_fit(points)),
        allowed_words="at most 10 % below rated; doubt counts against passing",
        checks=(("pass", "regulating voltage: 14.2 V, within 13.9 to 14.7 V"),
                ("not done", "charge lamp: not done")),
        findings=(),
        doubt=("  6000 rpm  ±0.9 A: the ammeter's accuracy is 94 % of the doubt",),
        cautions=(),
        folder=Path("2026-11-25T101500Z-J-1044-kqzd"),
        state="complete",
        simulated=False,
        changes=("The rebuild gave 21.0 A more at 6000 rpm.",),
        seal=SealWords(
            "sound", "Sealed, signed with key 5c1f0a9be2d34477..., which is known here."
        ),
    )  # fmt: skip


def _fit(points: Sequence[Measured]) -> CurveFit:
    from acquire.curve.fit import fit_curve
    from acquire.curve.points import CurvePoint

    return fit_curve([CurvePoint(one.shaft_rpm, one.amps, one.u_amps) for one in points])


def past() -> PastFacts:
    """Some runs on a shelf; the third is the one before the rebuild, the first the one after it."""
    rows = (
        ("A-17", "grey case, 6-groove", "after", "J-1044", "undecided", 25),
        ("B-9", "black, 2 lugs", "incoming", "J-1043", "stopped", 24),
        ("A-17", "grey case, 6-groove", "before", "J-1044", "fail", 20),
        ("C-204", "marine, slow frame", "after", "J-1031", "pass", 18),
    )
    entries = tuple(_past_run(*one) for one in rows)
    partners = {entries[0].run_id: Partners(before=entries[2]),
                entries[2].run_id: Partners(after=entries[0])}  # fmt: skip
    return PastFacts(
        entries=entries, at=2, total=len(entries), all_runs=len(entries), partners=partners,
        seal=SealWords("sound", "Sealed, not signed."),
    )  # fmt: skip


def _past_run(serial: str, unit: str, stage: str, job: str, outcome: str, day: int) -> RunEntry:
    """One of them, with no more than a list shows."""
    nothing: dict[str, Any] = dict.fromkeys(COLUMNS)
    run_id = f"2026-11-{day}T101500Z-{job}-kqzd"
    known = {
        "run_id": run_id, "folder": run_id, "place": "", "began_utc": f"2026-11-{day}T10:15:00Z",
        "state": "stopped" if outcome == "stopped" else "complete", "outcome": outcome,
        "simulated": False, "serial": serial, "unit": unit, "job_number": job, "stage": stage,
        "rated": RATED.title if serial != "C-204" else "14 V 150 A, slow frame (invented)",
    }  # fmt: skip
    return RunEntry(**{**nothing, **known})
