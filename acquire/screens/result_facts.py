"""What the result page shows, from a run just ended or from one on the shelf."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from acquire.ending import RunEnd
from acquire.judge.budget import HALF_WIDTH_K
from acquire.judge.recall import point_from_row
from acquire.judge.speed_result import chance_decided
from acquire.judging import accept_of, fit_of, points_in
from acquire.record.read_run import Run, read_run
from acquire.record.run_header import RunHeader
from acquire.record.seal_words import SealWords
from acquire.resuming import can_go_on
from acquire.screens.curve_chart import CurvePicture
from acquire.screens.curve_facts import Measured, picture_of
from acquire.snapshots import snapshots_of
from profiles.errors import BenchError

if TYPE_CHECKING:
    from acquire.curve.fit import CurveFit

OUTCOMES = {
    "pass": ("=", "Passes"),
    "fail": ("!", "Fails"),
    "undecided": ("~", "Undecided"),
    "not judged": (".", "Not judged"),
    "stopped": ("!", "Stopped"),
    "": (".", "Not ended"),
}


@dataclass(frozen=True, slots=True)
class ResultLine:
    """One speed of the result."""

    shaft_rpm: float
    amps: float | None
    half: float | None
    rated: float | None
    allowed: float | None
    margin: float | None
    sure: float | None
    outcome: str
    before: float | None = None
    why: str = ""
    """What keeps it undecided, in the verdict's own word."""


@dataclass(frozen=True, slots=True)
class ResultFacts:
    """One result."""

    outcome: str
    sentence: str
    what_next: str
    title: str
    lines: tuple[ResultLine, ...]
    picture: CurvePicture | None
    allowed_words: str
    checks: tuple[tuple[str, str], ...]
    """(outcome, words) of each."""
    findings: tuple[str, ...]
    doubt: tuple[str, ...]
    """The budget, speed by speed, the biggest part named."""
    cautions: tuple[str, ...]
    folder: Path
    state: str
    simulated: bool
    goes_on: bool = False
    """It did not come to its end, and may be gone on with."""
    changes: tuple[str, ...] = ()
    """What changed since the earlier run, with the doubt of the change."""
    trouble: tuple[str, ...] = ()
    """What went wrong at the stop."""
    bench: str = ""
    """Why the bench itself may not have been where it was when the run began."""
    began: str = ""
    """On the bench's clock, as in `2026-11-25 11:15 (UTC+1)`."""
    header: RunHeader | None = None
    not_finished: str = ""
    """Why the record of a run just ended could not be finished and sealed."""
    seal: SealWords | None = None
    """None while it is being checked."""


def facts_of_end(
    end: RunEnd, before: Path | None = None, trouble: Sequence[str] = ()
) -> ResultFacts:
    """The result of a run that has just ended, beside an earlier run of the same unit."""
    run = read_run(end.folder)
    why = [end.reason.words] if end.stopped else []
    facts = _facts(
        run, end.judgement.document, before, fit=end.judgement.fit, trouble=[*why, *trouble]
    )
    if end.not_finished is None:
        return facts
    return replace(facts, not_finished=f"THE RECORD IS NOT FINISHED: {end.not_finished}")


def facts_of_folder(folder: Path, before: Path | None = None) -> ResultFacts:
    """The result of a run on the shelf, as its record has it, beside an earlier one.

    Raises:
        BenchError: If the run cannot be read.
    """
    run = read_run(folder)
    if run.verdict is None:
        points = [point_from_row({**asdict(r.measured), **asdict(r.judged)}) for r in run.curve]
        return _facts(run, _so_far(run), before, fit=fit_of(points) if points else None)
    points = points_in(run.verdict)
    return _facts(run, run.verdict, before, fit=fit_of(points) if points else None)


def _so_far(run: Run) -> dict[str, Any]:
    """What a run without a verdict has measured, in the form of a verdict."""
    rows = [row.measured for row in run.curve]
    measured = [one for one in rows if one.amps is not None]
    whole = len(run.header.steps)
    of = f" of {whole}" if whole >= len(measured) else ""
    return {
        "outcome": "",
        "reason": f"This run has not ended. Measured so far: {len(measured)}{of} speeds.",
        "points": [
            {
                "shaft_rpm": one.set_rpm,
                "amps": one.amps,
                "u_amps": one.u_amps,
                "settled": one.settled,
                "outcome": "not judged",
            }
            for one in measured
        ],
    }


def measured_of_folder(folder: Path) -> list[Measured]:
    """The points of an earlier run, for the picture of a later one.

    Raises:
        BenchError: If the run cannot be read.
    """
    return measured_of_run(read_run(folder))


def measured_of_run(run: Run) -> list[Measured]:
    """The measured points of a run."""
    rows = [row.measured for row in run.curve]
    return [
        Measured(m.shaft_rpm, m.amps, m.u_amps, m.settled != "no")
        for m in rows
        if m.shaft_rpm is not None and m.amps is not None
    ]


def _facts(
    run: Run,
    document: Mapping[str, Any],
    before_folder: Path | None,
    *,
    fit: CurveFit | None,
    trouble: Sequence[str] = (),
) -> ResultFacts:
    header, folder = run.header, run.folder
    earlier = read_run(before_folder) if before_folder is not None else None
    before = measured_of_run(earlier) if earlier is not None else []
    lines = tuple(_line(data, before) for data in document.get("points", ()))
    what_next = document.get("what_next") or ""
    reason = str(document.get("reason") or "")
    return ResultFacts(
        outcome=str(document.get("outcome") or ""),
        sentence=reason.removesuffix(what_next).strip(),
        what_next=what_next,
        title=_title(header),
        lines=lines,
        picture=_picture(header, document, before, fit),
        allowed_words=_allowed(document),
        checks=tuple((c["outcome"], c["words"]) for c in document.get("checks", ())),
        findings=tuple(_finding(one) for one in document.get("findings", ())),
        doubt=tuple(_doubt(document)),
        cautions=tuple(document.get("cautions", ())),
        folder=folder,
        state=header.state,
        simulated=header.simulated,
        goes_on=can_go_on(run),
        trouble=tuple(trouble),
        changes=tuple(_changes(earlier, run)),
        bench=_bench(run),
        began=header.began_words,
        header=header,
    )


def _bench(run: Run) -> str:
    """What the run itself keeps of the chart of the reference unit, where that stood out."""
    from acquire.study.reference_watch import REFERENCE_WATCHED, ReferenceWatch

    kept = [entry.data for entry in run.journal if entry.kind == REFERENCE_WATCHED]
    watch = ReferenceWatch.from_data(kept[-1]) if kept else None
    if watch is None or not watch.warns:
        return ""
    return f"The bench may have been off when this began. {watch.words}. {watch.what_to_do}"


def _changes(earlier: Run | None, run: Run) -> list[str]:
    """The change in words, then a row a speed; nothing where the two cannot be compared."""
    if earlier is None:
        return []
    from acquire.comparing import compare_runs, comparison_lines

    try:
        return [line.rstrip() for line in comparison_lines(compare_runs(earlier, run)) if line]
    except BenchError:
        return []


def _title(header: RunHeader) -> str:
    parts = (header.serial, header.unit, header.stage, header.job.number)
    return " · ".join(part for part in parts if part)


def _line(data: Mapping[str, Any], before: Sequence[Measured]) -> ResultLine:
    u = data.get("u_amps")
    near = min(before, key=lambda p: abs(p.shaft_rpm - data["shaft_rpm"]), default=None)
    close = near is not None and abs(near.shaft_rpm - data["shaft_rpm"]) <= 0.02 * data["shaft_rpm"]
    return ResultLine(
        shaft_rpm=data["shaft_rpm"],
        amps=data.get("amps"),
        half=None if u is None else HALF_WIDTH_K * u,
        rated=data.get("rated_amps"),
        allowed=data.get("limit_amps"),
        margin=data.get("margin_amps"),
        sure=chance_decided(
            data.get("outcome", ""), data.get("p_conform"), data.get("p_conform_hot")
        ),
        outcome=data.get("outcome", ""),
        why=data.get("why") or "",
        before=near.amps if near is not None and close else None,
    )


def _picture(
    header: RunHeader, document: Mapping[str, Any], before: Sequence[Measured], fit: CurveFit | None
) -> CurvePicture | None:
    points = [
        Measured(p["shaft_rpm"], p["amps"], p.get("u_amps"), p.get("settled") != "no")
        for p in document.get("points", ())
        if p.get("amps") is not None
    ]
    if not points:
        return None
    profiles = snapshots_of(header)
    rated = profiles.rated_curve
    accept = accept_of(profiles) if rated is not None else None
    return picture_of(speeds=list(header.steps), rated=rated, accept=accept, points=points,
                      before=before, fit=fit)  # fmt: skip


def _allowed(document: Mapping[str, Any]) -> str:
    words = document.get("acceptance")
    if not words:
        return ""
    guarded = document.get("decision") == "guarded"
    doubt = "doubt counts against passing" if guarded else "as read"
    return f"{words}; {doubt}"


def _finding(one: object) -> str:
    if isinstance(one, Mapping):
        return str(one.get("words") or one.get("sentence") or one.get("name") or "")
    return str(one)


def _doubt(document: Mapping[str, Any]) -> list[str]:
    """At each step the doubt and its biggest part; what is missing from the budget is said."""
    out = []
    speeds = {str(p["step"]): p["set_rpm"] for p in document.get("steady_points", ())}
    missing: list[str] = []
    for step, budget in dict(document.get("budget", {})).items():
        rpm = speeds.get(step)
        at = f"{rpm:6.0f} rpm" if rpm is not None else f"step {step}"
        out.append(f"{at}  ±{HALF_WIDTH_K * budget['u_amps']:.1f} A: {budget['biggest']}")
        missing += [name for name in budget.get("missing", ()) if name not in missing]
    out += [f"not in the budget: {name}" for name in missing]
    return out
