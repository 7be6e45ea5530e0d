"""A verdict again: on a run by another rated curve or rule, or on points from elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path

from acquire.asked_checks import answers_in
from acquire.curve.points_file import read_points
from acquire.findings.case import Case
from acquire.findings.find import find
from acquire.findings.seen import seen_in
from acquire.judge.elsewhere import judge_elsewhere, steady_points
from acquire.judge.far_off import far_above, like_kiloamps
from acquire.judge.recall import point_from_row
from acquire.judge.steady_point import SteadyPoint
from acquire.judging import (
    DEFAULT_RULE,
    Judgement,
    accept_of,
    advised,
    fit_of,
    judge_run,
    points_in,
    warm_up_in,
)
from acquire.record.read_run import Run, read_run
from acquire.snapshots import snapshots_of
from profiles.alternator import AlternatorProfile, RatedCurve
from profiles.catalogue import load_rule
from profiles.errors import Problem, ProfileError
from profiles.rule import Accept, Rule


def points_of_run(run: Run) -> list[SteadyPoint]:
    """The steady points of a run, with their budgets where the run was judged."""
    kept = points_in(run.verdict or {})
    if kept:
        return kept
    return [point_from_row({**asdict(row.measured), **asdict(row.judged)}) for row in run.curve]


def judge_folder(
    folder: Path, curve: AlternatorProfile, rule: Rule | None
) -> tuple[Judgement, Accept]:
    """Judge a run by its own profiles, but by this rated curve and, if given, this rule.

    Raises:
        RunFileError: If the run cannot be read.
    """
    run = read_run(folder)
    profiles = replace(snapshots_of(run.header), rated=curve)
    if rule is not None:
        profiles = replace(profiles, rule=rule)
    judgement = judge_run(
        profiles,
        points=points_of_run(run),
        warm_up=warm_up_in(run.journal),
        answers=answers_in(run.journal),
        seen=seen_in(run.journal),
    )
    return judgement, accept_of(profiles)


def judge_csv(path: Path, curve: AlternatorProfile, rule: Rule | None) -> tuple[Judgement, Accept]:
    """Judge the points of a CSV; within 10 percent unless a rule is given.

    Raises:
        ProfileError: If the file is not such a CSV, or its currents are not in amps.
    """
    accept = (rule or load_rule(DEFAULT_RULE).profile).accept
    points = read_points(path)
    rated = curve.rated_curve()
    rows = steady_points(points)
    _refuse_other_units(path, rows, rated)
    verdict = judge_elsewhere(points, rated=rated, accept=accept)
    fit = fit_of(rows)
    findings = find(Case(points=rows, rated=rated, fit=fit, test_volts=rated.volts))
    verdict = advised(verdict, findings)
    document = {
        **verdict.to_data(),
        "fit": fit.as_json() if fit is not None else None,
        "findings": [finding.to_data() for finding in findings],
    }
    return Judgement(verdict, {}, document, fit, tuple(findings)), accept


def _refuse_other_units(path: Path, rows: Sequence[SteadyPoint], rated: RatedCurve) -> None:
    """Refuse currents that are far from any rated one, as milliamps and kiloamps are."""
    far = far_above(rows, rated)
    what = factor = ""
    if far is not None:
        milli = far.like_milliamps
        what = f"{far.words}: is it in mA?" if milli else f"{far.words}: no unit gives that."
        factor = "divide by 1000" if milli else "mend the figure"
    elif like_kiloamps(rows, rated):
        what = "Every current is about a thousandth of the rated one: is it in kA?"
        factor = "multiply by 1000"
    if what:
        advice = f"Give amps ({factor}), or name the rated curve of this unit."
        raise ProfileError([Problem(str(path), "column amps", what, advice)])


def keep_verdict(folder: Path, judgement: Judgement, *, rated: AlternatorProfile) -> str:
    """Add the verdict to a run as a sealed note; the note's place in the folder.

    Raises:
        RunFileError: If the run cannot take a note.
    """
    from acquire.record.add_note import add_note
    from acquire.record.signing import workshop_key

    note = add_note(
        folder,
        judgement.verdict.reason,
        who="judge",
        why=f"judged again against '{rated.title}'",
        data=judgement.document,
        key=workshop_key(),
    )
    return note.file
