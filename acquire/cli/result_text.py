"""The result in words: verdict first, then curve, table, and where the files are."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from acquire.cli.command_line import command_line
from acquire.cli.plain_chart import ChartData, ChartPoint, draw
from acquire.curve.fit import CurveFit
from acquire.findings.finding import Finding
from acquire.judge.acceptance import limit_at
from acquire.judge.budget import HALF_WIDTH_K
from acquire.judge.rated_line import rated_at
from acquire.judge.speed_result import SpeedResult
from acquire.judge.verdict import Verdict
from acquire.judge.verdict_words import BEYOND_A_LIMIT, UNDECIDED_WORDS, chance_words
from acquire.judging import Judgement
from profiles.alternator import RatedCurve
from profiles.rule import Accept

if TYPE_CHECKING:  # what a verdict on a file needs no drivers for
    from acquire.ending import RunEnd
    from acquire.run_order import RunOrder

HEADING = "   speed       amps    rated  allowed   margin  sure"
OUTCOME_WORDS = {
    "pass": "above =",
    "fail": "below !",
    "undecided": "too close ~",
    "not measured": "not measured",
    "not judged": "",
}


MEND_RIG_FILE = "Mend the rig file, then test anew: a run keeps the rig file it began with."
"""What a stopped run whose rig file is wrong is gone on with: not at all."""


def result_text(end: RunEnd, order: RunOrder) -> str:
    """Everything a plain sweep prints at its end."""
    lines = judgement_lines(end.judgement, rated=order.rated_curve, accept=order.accept)
    if end.stopped:
        lines += ["", f"Stopped: {end.reason.words}"]
    lines += going_on_lines(end)
    if order.simulated:
        lines += ["", "SIMULATED: these figures come from a machine in software."]
    lines += ["", f"Run folder: {end.folder}"]
    return "\n".join(lines)


def going_on_lines(end: RunEnd) -> list[str]:
    """How a run that did not come to its end, or not to its seal, is gone on with."""
    resume = command_line("resume", end.folder)
    if end.not_finished is not None:
        kept = "What reached the disk is kept; when the disk takes again, this finishes it:"
        refused = f"THE RECORD IS NOT FINISHED AND NOT SEALED: {end.not_finished.message}"
        return ["", refused, kept, resume]
    if not end.stopped or not end.goes_on or any(map(_no_reading, end.judgement.findings)):
        return []
    verdict, findings = end.judgement.verdict, end.judgement.findings
    if any(finding.in_rig_file for finding in findings):
        return [MEND_RIG_FILE]
    right = "where the rig file is right, " if verdict.what_next == BEYOND_A_LIMIT else ""
    return [f"What was measured is kept; {right}this goes on with it:", resume]


def _no_reading(finding: Finding) -> bool:
    """True of what makes a run not worth going on with."""
    return finding.put_right_first and finding.about == "readings"


def judgement_lines(
    judgement: Judgement, *, rated: RatedCurve | None, accept: Accept | None
) -> list[str]:
    """Verdict, chart, table, cautions."""
    verdict = judgement.verdict
    lines = ["", verdict.reason, ""]
    chart = chart_text(verdict.points, rated=rated, accept=accept, fit=judgement.fit)
    lines += [chart, ""] if chart else []
    lines += table_lines(verdict)
    lines += efficiency_lines(judgement.document.get("efficiency"))
    lines += finding_lines(judgement.findings)
    if verdict.acceptance:
        lines += ["", f"Allowed: {verdict.acceptance}."]
    lines += [f"  ! {caution}" for caution in verdict.cautions]
    lines += [f"  - {check.words}" for check in verdict.checks]
    return lines


def finding_lines(findings: Sequence[Finding]) -> list[str]:
    """What ails the unit, the rig or the readings: its evidence, and what would settle it."""
    lines: list[str] = []
    for finding in findings:
        lines += ["", f"{finding.words} ({finding.sure}; {finding.rests_on})"]
        lines += [f"    {evidence}" for evidence in finding.evidence]
        if finding.what_would_settle:
            lines.append(f"    To settle it: {finding.what_would_settle}")
        if finding.caution:
            lines.append(f"    ! {finding.caution}")
    return lines


def efficiency_lines(found: Mapping[str, Any] | None) -> list[str]:
    """Efficiency at each speed, where torque was measured."""
    if not found:
        return []
    lines = ["", "   speed  efficiency"]
    for one in found["points"]:
        half = HALF_WIDTH_K * 100 * one["u_efficiency"]
        lines.append(f"{one['shaft_rpm']:8.0f}  {100 * one['efficiency']:5.1f} % ±{half:.1f}")
    whole = found["weighted"]
    if whole is not None:
        half = HALF_WIDTH_K * 100 * whole["u_efficiency"]
        lines.append(f"weighted  {100 * whole['efficiency']:5.1f} % ±{half:.1f}")
    return [*lines, f"  (method {found['method']})"]


def table_lines(verdict: Verdict) -> list[str]:
    """One row a speed."""
    if not verdict.points:
        return ["No speed was measured."]
    return [HEADING, *(_row(result) for result in verdict.points)]


def _row(result: SpeedResult) -> str:
    half = f"±{HALF_WIDTH_K * result.u_amps:.1f}" if result.u_amps else ""
    amps = "--" if result.amps is None else f"{result.amps:z.1f}"
    cells = [
        f"{result.shaft_rpm:8.0f}",
        f"{amps:>7} {half:<6}",
        _number(result.rated_amps, 7),
        _number(result.limit_amps, 8),
        _number(result.margin_amps, 8, sign=True),
        f"{chance_words(result.p_decided):>7}",
        _outcome_words(result),
    ]
    return " ".join(cells).rstrip()


def _outcome_words(result: SpeedResult) -> str:
    if result.outcome == "undecided" and result.why in UNDECIDED_WORDS:
        return f"{UNDECIDED_WORDS[result.why]} ~"
    return OUTCOME_WORDS[result.outcome]


def _number(value: float | None, width: int, *, sign: bool = False) -> str:
    if value is None:
        return " " * width
    return f"{value:{'+' if sign else ''}z{width}.1f}"


def chart_text(
    results: Sequence[SpeedResult],
    *,
    rated: RatedCurve | None,
    accept: Accept | None,
    fit: CurveFit | None,
) -> str:
    """The output curve against rated and allowed; empty without a point."""
    points = [
        ChartPoint(r.shaft_rpm, r.amps, HALF_WIDTH_K * (r.u_amps or 0.0))
        for r in results
        if r.amps is not None
    ]
    if not points:
        return ""
    return draw(
        ChartData(
            points=points,
            rated=_rated_line(rated),
            allowed=_allowed_line(rated, accept),
            fitted=_fitted_line(fit, points),
        ),
        columns=chart_columns(),
    )


def chart_columns() -> int:
    """As wide as the terminal allows, at most 72 columns."""
    return max(min(72, shutil.get_terminal_size((80, 24)).columns - 20), 30)


def _rated_line(rated: RatedCurve | None) -> Callable[[float], float | None] | None:
    if rated is None or len(rated.points) < 2:
        return None
    return lambda rpm: rated_at(rated.points, rpm)


def _allowed_line(
    rated: RatedCurve | None, accept: Accept | None
) -> Callable[[float], float | None] | None:
    line = _rated_line(rated)
    if line is None or accept is None:
        return None

    def allowed(rpm: float) -> float | None:
        amps = line(rpm)
        return None if amps is None else limit_at(amps, accept)

    return allowed


def _fitted_line(
    fit: CurveFit | None, points: Sequence[ChartPoint]
) -> Callable[[float], float | None] | None:
    if fit is None:
        return None
    top = max(point.shaft_rpm for point in points)

    def fitted(rpm: float) -> float | None:
        return max(fit.at([rpm])[0].amps, 0.0) if 0 < rpm <= top else None

    return fitted
