"""`steadyamps judge`: a verdict again, or on points from elsewhere."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from acquire.cli import completing
from acquire.cli.voice import Voice
from acquire.errors import OrderError
from profiles.plain_text import visible

if TYPE_CHECKING:
    from profiles.alternator import AlternatorProfile
    from profiles.rule import Rule


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("judge")(judge)


def judge(
    context: typer.Context,
    points: Annotated[
        str,
        typer.Argument(
            metavar="RUN-or-CSV",
            autocompletion=completing.runs,
            help="A run folder, or a CSV with shaft_rpm,amps"
            " (and u_amps, u_shaft_rpm, volts, u_volts where known).",
        ),
    ],
    rated: Annotated[
        str | None,
        typer.Option(
            metavar="RATED",
            autocompletion=completing.curves,
            help="Name or file of the rated curve, or a plate; default the run's own.",
        ),
    ] = None,
    rule: Annotated[
        str | None,
        typer.Option(
            metavar="RULE",
            autocompletion=completing.rules,
            help="Acceptance rule; default the run's own, for a CSV within-10-percent.",
        ),
    ] = None,
    keep: Annotated[
        bool, typer.Option("--keep", help="Add the verdict to the run as a sealed note.")
    ] = False,
) -> int:
    """Judge measured points against a rated curve.

    Nothing sealed is changed.

    Example: steadyamps judge points.csv --rated "45/90A 13.5V @1500/6000"
    """
    from acquire.cli.exit_codes import exit_for
    from acquire.cli.places import run_folder
    from acquire.cli.result_text import judgement_lines
    from acquire.rejudging import judge_csv, judge_folder, keep_verdict

    voice: Voice = context.obj
    path = run_folder(voice, points)
    curve = _curve(voice, path, rated)
    given = _rule(voice, path, rule)
    if keep and not path.is_dir():
        raise OrderError(f"--keep: {points} is no run folder.", what_to_do="Leave --keep out.")
    again = judge_folder if path.is_dir() else judge_csv
    judgement, accept = again(path, curve, given)
    lines = judgement_lines(judgement, rated=curve.rated_curve(), accept=accept)
    voice.result("\n".join(lines).strip("\n"))
    if keep:
        note = keep_verdict(path, judgement, rated=curve)
        voice.talk(f"Kept as a sealed note: {note}")
    folder = str(path) if path.is_dir() else None
    used = {"title": curve.title, "from": "run" if rated is None else "given"}
    voice.document({**judgement.document, "run": folder, "rated_curve": used})
    return exit_for(judgement.verdict.outcome)


def _rule(voice: Voice, path: Path, rule: str | None) -> Rule | None:
    """The acceptance rule given, for a CSV else the usual one; None: the run's own."""
    from acquire.cli.which_file import taken
    from acquire.judging import DEFAULT_RULE
    from profiles.catalogue import load_rule

    if rule is None and path.is_dir():
        return None
    loaded = load_rule(rule if rule is not None else DEFAULT_RULE)
    voice.talk(taken("rules", loaded))
    return loaded.profile


def _curve(voice: Voice, path: Path, rated: str | None) -> AlternatorProfile:
    """The rated curve given, else the one that the run itself carries.

    Raises:
        OrderError: If none is given and there is none in the run, or it is no run.
    """
    from acquire.cli.orders import rated_from
    from acquire.cli.which_file import taken
    from acquire.record.run_header import read_header
    from acquire.snapshots import rated_of

    if rated is not None:
        loaded = rated_from(rated, ask=not voice.json)
        voice.talk(taken("alternators", loaded))
        return loaded.profile
    if not path.is_dir():
        raise OrderError(
            f"By which rated curve is {visible(str(path))} to be judged?",
            what_to_do="Add it: --rated NAME, a file, or a plate as in '45/90A 14V @1500/6000'.",
        )
    curve = rated_of(read_header(path))
    if curve is None:
        raise OrderError(
            f"The run {visible(path.name)} carries no rated curve: it was measured, not judged.",
            what_to_do="Add one: --rated NAME, a file, or a plate as in '45/90A 14V @1500/6000'.",
        )
    voice.talk(f"Judged by the rated curve that the run itself carries: {curve.title}.")
    return curve
