"""The verdict on a unit: every rated speed judged under the acceptance rule, then the whole.

The outcome of a run is the worse of its curve and its checks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from acquire.judge.acceptance import acceptance_words, limit_at
from acquire.judge.budget import correlation
from acquire.judge.cautions import about_load, about_stop, all_cautions
from acquire.judge.checks import CheckResult
from acquire.judge.circumstances import Circumstances, refuse_bad_points
from acquire.judge.far_off import far_above, high_above
from acquire.judge.figure import Figure
from acquire.judge.hot_loss import hot_loss
from acquire.judge.probability import joint_chance
from acquire.judge.rated_line import leniency_amps
from acquire.judge.speed_result import Bar, Conditions, SpeedResult, judge_speed
from acquire.judge.spots import At, Spot, own_row, spots_for
from acquire.judge.steady_point import SteadyPoint
from acquire.judge.verdict_words import BEGIN_ANEW, BEYOND_A_LIMIT, GO_ON, Told, tell
from profiles.alternator import RatedCurve
from profiles.rule import Accept

Outcome = Literal["pass", "fail", "undecided", "not judged", "stopped"]
NO_CIRCUMSTANCES = Circumstances()


@dataclass(frozen=True, slots=True)
class Verdict:
    """What came of judging a unit."""

    outcome: Outcome
    sentence: str
    """What is the case, in words a customer understands."""
    what_next: str = ""
    """What to do about it; empty after a plain pass."""
    acceptance: str = ""
    decision: str = ""
    """`guarded` or `simple`, as it was applied."""
    points: tuple[SpeedResult, ...] = ()
    """Every speed by rising speed: the judged ones, the rated ones not measured, the others."""
    p_all: float | None = None
    """Chance that every judged speed meets its limit, as measured."""
    cautions: tuple[str, ...] = ()
    checks: tuple[CheckResult, ...] = ()
    confidence: float | None = None
    at: At = "rated speeds"
    lenient_amps: float | None = None
    """With limits between rated speeds: how far too low they may be [A]; None = not known."""

    @property
    def reason(self) -> str:
        """The sentence, and what to do next where something must be done."""
        return f"{self.sentence} {self.what_next}".rstrip()

    def for_step(self, step: int) -> SpeedResult | None:
        """Give the judgement a step's row belongs to; None where the step has none."""
        return next((result for result in self.points if step in result.steps), None)

    def with_what_next(self, what_next: str) -> Verdict:
        """Give the verdict with another advice, as when a finding explains the fail."""
        return replace(self, what_next=what_next)

    def to_data(self) -> dict[str, object]:
        """Give the verdict as plain data for JSON and the record; what is unknown is None."""
        return {
            "outcome": self.outcome,
            "reason": self.reason,
            "acceptance": self.acceptance or None,
            "decision": self.decision or None,
            "confidence": self.confidence,
            "at": self.at,
            "lenient_amps": self.lenient_amps,
            "points": [result.to_data() for result in self.points],
            "p_all": self.p_all,
            "checks": [check.to_data() for check in self.checks],
            "cautions": list(self.cautions),
            "what_next": self.what_next or None,
        }


def judge(
    points: Sequence[SteadyPoint],
    *,
    rated: RatedCurve | None,
    accept: Accept | None,
    circumstances: Circumstances = NO_CIRCUMSTANCES,
    checks: Sequence[CheckResult] = (),
) -> Verdict:
    """Judge measured points against a rated curve under an acceptance rule.

    Raises:
        BadPoint: A point holds a figure that is no number or impossible.
        NoLimit: The acceptance rule states no limit.
    """
    refuse_bad_points(points)
    impossible = _why_not_judged(rated, accept, circumstances)
    if rated is None or accept is None or impossible:
        return _not_judged(points, impossible, circumstances, checks)
    at: At = "rated speeds" if rated.derived else accept.at
    test_volts = circumstances.test_volts or rated.volts
    spots = spots_for(points, rated=rated, accept=accept, at=at, test_volts=test_volts)
    figures = [spot.figure for spot in spots if spot.is_judged and spot.figure is not None]
    bar = _bar(figures, accept)
    results = tuple(_result(spot, rated, accept, bar, circumstances) for spot in spots)
    far = far_above(points, rated)
    outcome = _outcome(results, checks, circumstances)
    if outcome == "pass" and far is not None:
        outcome = "undecided"
    told = Told(
        results=results,
        checks=tuple(checks),
        rated=rated,
        bar=bar,
        test_volts=test_volts,
        volts_within=circumstances.volts_within,
        load_holds=circumstances.load_holds,
        at=at,
        stricter=circumstances.state == "warm" and rated.state == "cold",
        far_above=far.words if far is not None else "",
        high_above=high_above(results, rated) if far is None else "",
    )
    sentence, what_next = tell(
        outcome, told, stopped=circumstances.stopped, then=_once_stopped(circumstances)
    )
    lenient = _leniency(figures, rated) if at == "measured speeds" else None
    return Verdict(
        outcome=outcome,
        sentence=sentence,
        what_next=what_next,
        acceptance=acceptance_words(accept),
        decision="guarded" if bar.guarded else "simple",
        points=results,
        p_all=_p_all(results),
        cautions=all_cautions(
            told, points=points, figures=figures, circumstances=circumstances, lenient=lenient,
            accept=accept,
        ),
        checks=tuple(checks),
        confidence=accept.confidence,
        at=at,
        lenient_amps=lenient,
    )  # fmt: skip


def _once_stopped(circumstances: Circumstances) -> str:
    if circumstances.never_goes_on:
        return BEGIN_ANEW
    return BEYOND_A_LIMIT if circumstances.beyond_a_limit else GO_ON


def _why_not_judged(
    rated: RatedCurve | None, accept: Accept | None, circumstances: Circumstances
) -> str:
    if rated is None and circumstances.load_off:
        return (
            "no rated curve was given, so the load stayed off: these currents are what the battery "
            "took, not what the unit can give. Name a rated curve and test it again."
        )
    if rated is None:
        return "no rated curve was given. Name one to have it judged."
    if not rated.points:
        return f"the rated curve of {rated.title!r} has no points. Add them to its profile."
    if rated.regulator == "commanded" and not (rated.command or circumstances.command):
        return (
            "this unit gives what its command asks for, and the command is not stated. "
            "Add alternator.command to its profile."
        )
    if accept is None:
        return "no acceptance rule was given. Name one to have it judged."
    return ""


def _not_judged(
    points: Sequence[SteadyPoint],
    why: str,
    circumstances: Circumstances,
    checks: Sequence[CheckResult],
) -> Verdict:
    failed = [check for check in checks if check.outcome == "fail"]
    sentence = f"Not judged: {why}"
    outcome: Outcome = "not judged"
    if failed:
        outcome = "fail"
        sentence = f"Fails. {'; '.join(check.words for check in failed)}. The curve: {why}"
    if circumstances.stopped:
        outcome, sentence = "stopped", f"Stopped: {circumstances.stopped}"
    spots = [own_row(point, circumstances.test_volts or 0.0) for point in points if point.usable]
    return Verdict(
        outcome=outcome,
        sentence=sentence,
        points=tuple(_off_the_curve(spot) for spot in sorted(spots, key=lambda s: s.shaft_rpm)),
        cautions=(*about_stop(circumstances), *about_load(circumstances)),
        checks=tuple(checks),
    )


def _bar(figures: Sequence[Figure], accept: Accept) -> Bar:
    """Without an uncertainty at every judged speed the decision is simple."""
    known = all(figure.budget is not None for figure in figures)
    guarded = accept.decision == "guarded" and known
    return Bar(guarded=guarded, confidence=accept.confidence, speeds=len(figures))


def _result(
    spot: Spot, rated: RatedCurve, accept: Accept, bar: Bar, circumstances: Circumstances
) -> SpeedResult:
    if spot.rated_amps is None:
        return _off_the_curve(spot)
    limit = limit_at(spot.rated_amps, accept)
    if spot.figure is None:
        return SpeedResult(
            shaft_rpm=spot.shaft_rpm,
            rated_amps=spot.rated_amps,
            limit_amps=limit,
            outcome="not measured",
            why="not measured",
            measured_rpm=spot.nearest_rpm,
        )
    conditions = _conditions(spot.shaft_rpm, rated, circumstances)
    return judge_speed(
        spot.figure, rated_amps=spot.rated_amps, limit_amps=limit, bar=bar, conditions=conditions
    )


def _off_the_curve(spot: Spot) -> SpeedResult:
    figure = spot.figure
    if figure is None:
        return SpeedResult(spot.shaft_rpm)
    return SpeedResult(
        shaft_rpm=figure.shaft_rpm,
        amps=figure.amps,
        u_amps=figure.u_amps,
        settled=figure.settled,
        why=spot.why,
        volts=figure.volts,
        budget=figure.budget,
        steps=figure.steps,
        measured_rpm=figure.measured_rpm,
    )


def _conditions(shaft_rpm: float, rated: RatedCurve, circumstances: Circumstances) -> Conditions:
    cold_for_warm = circumstances.state == "cold" and rated.state == "warm"
    loss = None
    if cold_for_warm:
        cut_in, air_c = circumstances.cut_in_rpm, circumstances.air_c
        loss = hot_loss(shaft_rpm, cut_in_rpm=cut_in, air_c=air_c)
    return Conditions(
        test_volts=circumstances.test_volts or rated.volts,
        volts_within=circumstances.volts_within,
        hot_loss=loss,
    )


def _outcome(
    results: Sequence[SpeedResult], checks: Sequence[CheckResult], circumstances: Circumstances
) -> Outcome:
    if circumstances.stopped:
        return "stopped"
    here = {result.outcome for result in results if result.limit_amps is not None}
    if "fail" in here or any(check.outcome == "fail" for check in checks):
        return "fail"
    left_out = any(check.insisted and check.outcome == "not done" for check in checks)
    return "pass" if here == {"pass"} and not left_out else "undecided"


def _p_all(results: Sequence[SpeedResult]) -> float | None:
    """Chance that all speeds conform; None where that of one is not known.

    Points from elsewhere have no common parts in their budgets, so they count as independent.
    """
    wanted = [result for result in results if result.limit_amps is not None]
    chances = [result.p_conform for result in wanted if result.p_conform is not None]
    budgets = [result.budget for result in wanted if result.budget is not None]
    if not wanted or len(chances) < len(wanted):
        return None
    return joint_chance(chances, correlation(budgets))


def _leniency(figures: Sequence[Figure], rated: RatedCurve) -> float | None:
    speeds = [figure.shaft_rpm for figure in figures]
    return leniency_amps(rated.points, speeds) if speeds else None
