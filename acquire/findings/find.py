"""All findings of a run, the most certain first."""

from __future__ import annotations

from collections.abc import Sequence

from acquire.findings.brush import brush
from acquire.findings.case import Case
from acquire.findings.curve_causes import from_curve, not_ruled_out
from acquire.findings.finding import Finding
from acquire.findings.hot_fade import hot_fade
from acquire.findings.no_output import no_output, regulator
from acquire.findings.not_measured import current_not_measured
from acquire.findings.not_stopped import bench_did_not_stop
from acquire.findings.speed_ratio import speed_ratio
from acquire.findings.weigh import weigh
from acquire.findings.wiring import cable, clamp_zero
from acquire.findings.without_rating import without_rating


def find(case: Case) -> list[Finding]:
    """What is wrong with the unit, the rig or the readings, by the evidence of this run."""
    if case.seen.current_not_seen:
        return [current_not_measured(case.seen.current_not_seen), *bench_did_not_stop(case)]
    rig = [
        *bench_did_not_stop(case), *speed_ratio(case), *cable(case), *clamp_zero(case),
    ]  # fmt: skip
    nothing = no_output(case)
    held = [] if nothing else regulator(case)
    if nothing or held:
        return _in_order([*nothing, *held, *rig])
    weighed = weigh(case)
    lifting, fading = brush(case), hot_fade(case)
    speed_doubtful = any(f.name.startswith("wrong") for f in rig)
    explained = lifting or fading or (speed_doubtful and case.speed_source != "shaft_rpm")
    curve = [] if explained else from_curve(case, weighed)
    shape = [] if explained else without_rating(case)
    return _in_order(
        [*lifting, *fading, *curve, *shape, *rig, *not_ruled_out(case, weighed, curve)]
    )


def advice(findings: Sequence[Finding], *, outcome: str) -> str:
    """What a verdict says next, from the most certain finding that can be its cause.

    A fail says so always; an undecided or stopped run where reading on would be no use.
    """
    reading_on = outcome in ("undecided", "stopped")
    for finding in findings:
        first = reading_on and finding.put_right_first
        anew = outcome == "stopped" and finding.in_rig_file
        wanted = outcome == "fail" or first or anew
        if finding.advice and finding.accuses and wanted:
            return finding.advice
    return ""


def before_warm(findings: Sequence[Finding]) -> str:
    """What comes before a warm run, where a certain or likely fault of the unit forbids one."""
    for finding in findings:
        if finding.before_warm and finding.accuses and finding.sure != "possible":
            return finding.before_warm
    return ""


def _in_order(findings: Sequence[Finding]) -> list[Finding]:
    return sorted(findings, key=lambda finding: -finding.weight)
