"""From the steady points of a run to its verdict, its fit, and the document that keeps both."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from acquire.efficiency_of_run import efficiency_of_run
from acquire.findings.finding import Finding
from acquire.findings.seen import WARM_UP_OVER, Seen
from acquire.judge.checks import Answer, CheckResult, evaluate_all
from acquire.judge.circumstances import Circumstances, gone_on_warm, run_state
from acquire.judge.recall import point_from_data, point_to_data
from acquire.judge.steady_point import SteadyPoint
from acquire.judge.verdict import Verdict, judge
from acquire.judge.verdict_words import LOOK_AT_FINDINGS, NO_CAUSE_SHOWN, RUN_WARM
from acquire.record.curve_table import Judged
from acquire.record.journal import JOURNAL_FILE, JournalEntry
from acquire.record.other_hands import as_we_write
from acquire.record.verdict_file import VERDICT_FILE
from acquire.snapshots import Snapshots
from acquire.sweep.plan import load_kind, volts_within
from profiles.alternator import AlternatorProfile, State
from profiles.catalogue import load_rule
from profiles.method import Method
from profiles.rule import Accept

if TYPE_CHECKING:
    from acquire.curve.fit import CurveFit, CurvePoint

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
    findings: tuple[Finding, ...] = ()
    """The most certain first."""


def judge_run(
    profiles: Snapshots,
    *,
    points: Sequence[SteadyPoint],
    warm_up: WarmUpRan | None = None,
    why_stopped: str | None = None,
    answers: Mapping[str, Answer] | None = None,
    seen: Seen | None = None,
) -> Judgement:
    """Judge the points of a run by the profiles it keeps; `seen`: what else the run has shown."""
    rated = profiles.rated_curve
    fit = fit_of(points)
    circumstances = _circumstances(profiles, warm_up, fit, why_stopped)
    circumstances = replace(
        circumstances,
        unsteady_rpm=_unsteady_rpm(points, seen),
        gone_on_warm_c=gone_on_warm(points, seen.went_on_after if seen else ()),
        did_not_stop=seen is not None and bool(seen.not_stopped),
        load_off=seen is not None and seen.load_stayed_off,
        never_goes_on=seen is not None and seen.refused_for_good,
        beyond_a_limit=seen is not None and seen.stopped_beyond_a_limit(why_stopped),
    )
    verdict = judge(
        points,
        rated=rated,
        accept=_accept_here(profiles),
        circumstances=circumstances,
        checks=_checks(profiles.method, answers),
    )
    findings = _findings(profiles, points, fit, circumstances, verdict, seen)
    verdict = advised(verdict, findings)
    return Judgement(
        verdict=verdict,
        judged=judged_columns(points, verdict),
        document={
            **document_of(verdict, points, fit, findings),
            **_figures(fit, profiles.rated),
            "efficiency": efficiency_of_run(points, seen, profiles.rig),
        },
        fit=fit,
        findings=tuple(findings),
    )


def judged_so_far(
    profiles: Snapshots, *, points: Sequence[SteadyPoint], warm_up: WarmUpRan | None
) -> Verdict:
    """The verdict on the points a run has so far, by the same limits, rule and hot loss.

    Raises:
        BadPoint: A point holds a figure that is no number or impossible.
    """
    return judge(
        points,
        rated=profiles.rated_curve,
        accept=_accept_here(profiles),
        circumstances=_circumstances(profiles, warm_up, fit_of(points), None),
    )


def _findings(
    profiles: Snapshots,
    points: Sequence[SteadyPoint],
    fit: CurveFit | None,
    circumstances: Circumstances,
    verdict: Verdict,
    seen: Seen | None,
) -> list[Finding]:
    """What is wrong with the unit, the rig or the readings."""
    from acquire.findings.case import Case
    from acquire.findings.find import find
    from acquire.sweep.plan import speed_source_of

    rated = profiles.rated_curve
    return find(
        Case(
            points=points,
            rated=rated,
            fit=fit,
            seen=seen or Seen(),
            rig=profiles.rig,
            state=circumstances.state,
            test_volts=circumstances.test_volts,
            volts_within=circumstances.volts_within,
            speed_source=speed_source_of(profiles.rig),
            checks=verdict.checks,
            outcome=verdict.outcome,
        )
    )


def advised(verdict: Verdict, findings: Sequence[Finding]) -> Verdict:
    """What a verdict asks for next, as its most certain finding has it where one explains it."""
    from acquire.findings.find import advice, before_warm

    on_the_curve = any(result.outcome == "fail" for result in verdict.points)
    if verdict.outcome == "fail" and not on_the_curve:
        return verdict
    words = advice(findings, outcome=verdict.outcome)
    if not words and verdict.outcome == "undecided" and verdict.what_next == RUN_WARM:
        words = before_warm(findings)
    if not words and not findings and verdict.what_next == LOOK_AT_FINDINGS:
        words = NO_CAUSE_SHOWN
    return verdict.with_what_next(words) if words else verdict


def accept_of(profiles: Snapshots) -> Accept:
    """The acceptance rule in force: the rule's, else the method's, else within 10 percent."""
    if profiles.rule is not None:
        return profiles.rule.accept
    if profiles.method.accept is not None:
        return profiles.method.accept
    return load_rule(DEFAULT_RULE).profile.accept


def _accept_here(profiles: Snapshots) -> Accept:
    """Without a drive the speeds are what the hand made them: judged where they were measured."""
    accept = accept_of(profiles)
    if profiles.rig.drive is not None or "at" in accept.model_fields_set:
        return accept
    return accept.model_copy(update={"at": "measured speeds"})


def warm_up_in(journal: Iterable[JournalEntry]) -> WarmUpRan | None:
    """How the warm-up went, by the journal; None where there was none."""
    over = [entry.data for entry in journal if entry.kind == WARM_UP_OVER]
    with as_we_write(JOURNAL_FILE, "the end of the warm-up"):
        return warm_up_of(over[-1]) if over else None


def warm_up_of(data: Mapping[str, Any]) -> WarmUpRan:
    """How the warm-up went, by the remark made at its end."""
    return WarmUpRan(float(data["lasted_s"]), data["how"] == "steady")


def _circumstances(
    profiles: Snapshots,
    warm_up: WarmUpRan | None,
    fit: CurveFit | None,
    why_stopped: str | None,
) -> Circumstances:
    method = profiles.method
    cut_in = fit.cut_in if fit is not None else None
    return Circumstances(
        state=state_of(method, warm_up),
        test_volts=held_volts_of(profiles),
        volts_within=volts_within(method, load_kind(profiles.rig)),
        load_holds=load_kind(profiles.rig) == "holds",
        cut_in_rpm=cut_in.value if cut_in is not None else None,
        stopped=why_stopped or "",
    )


def state_of(method: Method, warm_up: WarmUpRan | None) -> State:
    """Warm or cold, as the verdict takes a run of this method."""
    asked = method.warm_up
    return run_state(
        asked_s=asked.for_s if asked is not None else None,
        ran_s=warm_up.lasted_s if warm_up is not None else 0.0,
        steady=warm_up.steady if warm_up is not None else False,
    )


def held_volts_of(profiles: Snapshots) -> float | None:
    """The voltage a run was held at: the method's own, else the rating's [V]."""
    rated = profiles.rated_curve
    return profiles.method.test.volts or (rated.volts if rated else None)


def _unsteady_rpm(points: Sequence[SteadyPoint], seen: Seen | None) -> tuple[float, ...]:
    if seen is None:
        return ()
    return tuple(sorted({p.set_rpm for p in points if p.usable and seen.unsteady(p.step)}))


def _checks(method: Method, answers: Mapping[str, Answer] | None) -> list[CheckResult]:
    return evaluate_all(method.check, answers or {})


def _figures(fit: CurveFit | None, rated: AlternatorProfile | None) -> dict[str, Any]:
    """Cut-in speed, and the currents at idle and rated speed, off the fitted curve.

    The speeds are those stated with the rating, else its first and its last.
    """
    from acquire.curve.cut_in import curve_figures

    if fit is None:
        return {"cut_in_rpm": None, "idle_amps": None, "rated_amps": None}
    points = rated.rated_curve().points if rated else ()
    figures = curve_figures(
        fit,
        idle_rpm=rated.idle_rpm or points[0][0] if rated else None,
        rated_rpm=rated.rated_rpm or points[-1][0] if rated else None,
    )
    cut_in, idle, top = figures.cut_in_rpm, figures.idle, figures.rated
    return {
        "cut_in_rpm": cut_in.as_json() if cut_in is not None else None,
        "idle_amps": idle.as_json() if idle is not None else None,
        "rated_amps": top.as_json() if top is not None else None,
    }


def fit_to_data(fit: CurveFit | None) -> dict[str, Any] | None:
    """The fit for verdict.json, with the curve as it is drawn: a report then needs no new fit."""
    if fit is None:
        return None
    return {**fit.as_json(), "curve": [point.as_json() for point in fit.drawn()]}


def fit_of(points: Sequence[SteadyPoint]) -> CurveFit | None:
    """The output curve through the points; None where there are too few for one."""
    from acquire.curve.fit import CannotFit, fit_curve

    try:
        return fit_curve(curve_points(points))
    except CannotFit:
        return None


def curve_points(points: Sequence[SteadyPoint]) -> list[CurvePoint]:
    """Steady points as the fit wants them; rows without figures are left out."""
    from acquire.curve.fit import CurvePoint

    return [
        CurvePoint(p.shaft_rpm, p.amps, p.u_amps or None, p.u_shaft_rpm or None)
        for p in points
        if p.shaft_rpm is not None and p.amps is not None
    ]


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


def points_in(document: Mapping[str, Any]) -> list[SteadyPoint]:
    """The steady points that a verdict.json keeps, each with its budget."""
    with as_we_write(VERDICT_FILE, "steady points"):
        budgets = document.get("budget", {})
        return [
            point_from_data({**data, "budget": budgets.get(str(data["step"]))})
            for data in document.get("steady_points", ())
        ]


def document_of(
    verdict: Verdict,
    points: Sequence[SteadyPoint],
    fit: CurveFit | None,
    findings: Sequence[Finding] = (),
) -> dict[str, Any]:
    """verdict.json: outcome and reason first, then what they rest on."""
    return {
        **verdict.to_data(),
        "budget": {str(p.step): p.budget.to_data() for p in points if p.budget is not None},
        "steady_points": [{**point_to_data(p), "budget": None} for p in points],
        "fit": fit_to_data(fit),
        "findings": [finding.to_data() for finding in findings],
    }
