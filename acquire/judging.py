"""From the steady points of a run to its verdict, its fit, and the document that keeps both."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from acquire.judge.checks import CheckResult, evaluate_all
from acquire.judge.circumstances import Circumstances, run_state
from acquire.judge.steady_point import SteadyPoint
from acquire.judge.verdict import Verdict, judge
from acquire.record.curve_table import Judged
from acquire.record.journal import JournalEntry
from acquire.record.run_header import RunHeader
from acquire.snapshots import Snapshots, snapshots_of
from profiles.alternator import RatedCurve
from profiles.catalogue import load_rule
from profiles.method import Method
from profiles.rule import Accept

if TYPE_CHECKING:
    from acquire.curve.fit import CurveFit

DEFAULT_RULE = "within-10-percent"


@dataclass(frozen=True, slots=True)
class WarmUpRan:
    """How the warm-up went."""

    lasted_s: float
    steady: bool


@dataclass(frozen=True, slots=True)
class Judgement:
    """What came of a run."""

    verdict: Verdict
    judged: dict[int, Judged]
    """The judged columns of curve.csv by step."""
    document: dict[str, Any]
    """verdict.json."""
    fit: CurveFit | None


def judge_run(
    header: RunHeader,
    *,
    points: Sequence[SteadyPoint],
    warm_up: WarmUpRan | None = None,
    why_stopped: str | None = None,
    accept: Accept | None = None,
    answers: dict[str, float | bool | str | None] | None = None,
) -> Judgement:
    """Judge the points of a run by the profiles it keeps; `accept` overrides its own rule."""
    profiles = snapshots_of(header)
    rated = profiles.rated_curve
    fit = _fit(points)
    verdict = judge(
        points,
        rated=rated,
        accept=accept or accept_of(profiles) if rated is not None else None,
        circumstances=_circumstances(profiles.method, rated, warm_up, fit, why_stopped),
        checks=_checks(profiles.method, answers),
    )
    return Judgement(
        verdict=verdict,
        judged=judged_columns(points, verdict),
        document=document_of(verdict, points, fit),
        fit=fit,
    )


def accept_of(profiles: Snapshots) -> Accept:
    """The acceptance rule in force: the rule's, else the method's, else within 10 percent."""
    if profiles.rule is not None:
        return profiles.rule.accept
    if profiles.method.accept is not None:
        return profiles.method.accept
    return load_rule(DEFAULT_RULE).profile.accept


def warm_up_in(journal: Iterable[JournalEntry]) -> WarmUpRan | None:
    """How the warm-up went, by the journal; None where there was none."""
    for entry in journal:
        if entry.kind == "warm-up over":
            return WarmUpRan(float(entry.data["lasted_s"]), entry.data["how"] == "steady")
    return None


def _circumstances(
    method: Method,
    rated: RatedCurve | None,
    warm_up: WarmUpRan | None,
    fit: CurveFit | None,
    why_stopped: str | None,
) -> Circumstances:
    asked = method.warm_up
    state = run_state(
        asked_s=asked.for_s if asked is not None else None,
        ran_s=warm_up.lasted_s if warm_up is not None else 0.0,
        steady=warm_up.steady if warm_up is not None else False,
    )
    cut_in = fit.cut_in if fit is not None else None
    return Circumstances(
        state=state,
        test_volts=method.test.volts or (rated.volts if rated else None),
        volts_within=method.test.volts_within,
        cut_in_rpm=cut_in.value if cut_in is not None else None,
        stopped=why_stopped or "",
    )


def _checks(
    method: Method, answers: dict[str, float | bool | str | None] | None
) -> list[CheckResult]:
    return evaluate_all(method.check, answers or {})


def _fit(points: Sequence[SteadyPoint]) -> CurveFit | None:
    """The output curve through the points; None where there are too few for one."""
    from acquire.curve.fit import CannotFit, CurvePoint, fit_curve

    usable = [
        CurvePoint(p.shaft_rpm, p.amps, p.u_amps or None, p.u_shaft_rpm or None)
        for p in points
        if p.shaft_rpm is not None and p.amps is not None
    ]
    try:
        return fit_curve(usable)
    except CannotFit:
        return None


def judged_columns(points: Sequence[SteadyPoint], verdict: Verdict) -> dict[int, Judged]:
    """What the judgement adds to each step's row."""
    return {point.step: _judged(point, verdict) for point in points}


def _judged(point: SteadyPoint, verdict: Verdict) -> Judged:
    result = verdict.for_step(point.step)
    if not point.usable or result is None:
        return Judged(outcome="not measured" if not point.usable else "not judged")
    return Judged(
        amps_at_set_rpm=point.amps_at_set_rpm,
        u_amps_at_set_rpm=point.u_amps_at_set_rpm,
        rated_amps=result.rated_amps,
        limit_amps=result.limit_amps,
        margin_amps=result.margin_amps,
        p_conform=result.p_conform,
        outcome=result.outcome,
    )


def document_of(
    verdict: Verdict, points: Sequence[SteadyPoint], fit: CurveFit | None
) -> dict[str, Any]:
    """verdict.json: outcome and reason first, then what they rest on."""
    return {
        **verdict.to_data(),
        "budget": {str(p.step): p.budget.to_data() for p in points if p.budget is not None},
        "fit": fit.as_json() if fit is not None else None,
        "findings": [],
    }
