"""`steadyamps rig study`: how well the bench repeats itself, and the chart of a reference unit."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from acquire.cli import completing
from acquire.cli.number_option import number
from acquire.cli.voice import Voice

WAYS = ("operator", "day", "rig")


def register(rig_app: typer.Typer) -> None:
    """Add the command to the group `rig`."""
    rig_app.command("study")(study_bench)


def study_bench(
    context: typer.Context,
    runs: Annotated[
        list[str],
        typer.Argument(metavar="RUN...", autocompletion=completing.runs, help="Runs of one unit."),
    ],
    by: Annotated[
        str,
        typer.Option(
            metavar="operator|day|rig",
            autocompletion=completing.one_of("operator", "day", "rig"),
            help="What the runs are grouped by.",
        ),
    ] = "operator",
    reference: Annotated[
        bool, typer.Option("--reference", help="Chart a reference unit over its runs instead.")
    ] = False,
    at: Annotated[
        float | None,
        typer.Option(
            parser=number,
            metavar="RPM",
            help="With --reference: chart this speed, not all together.",
        ),
    ] = None,
) -> int:
    """Study how the bench repeats, from runs of one unit.

    With --reference: whether a reference unit drifts. It ends then with 1 where the latest run
    stands out.

    Example: steadyamps rig study RUN-1 RUN-2 RUN-3 RUN-4 --by operator
    """
    from acquire.cli.exit_codes import Exit
    from acquire.cli.places import run_folder
    from acquire.errors import OrderError

    voice: Voice = context.obj
    if by not in WAYS:
        raise OrderError(f"--by {by!r} is not known.", what_to_do=f"Ways: {', '.join(WAYS)}.")
    if at is not None and not reference:
        raise OrderError("--at goes with --reference only.", what_to_do="Add --reference.")
    folders = [run_folder(voice, run) for run in runs]
    if not reference:
        _study(voice, folders, by)
        return Exit.OK
    return Exit.OK if _chart(voice, folders, at) else Exit.FAIL


def _study(voice: Voice, folders: list[Path], by: str) -> None:
    from acquire.study.bench_study import lines, study
    from acquire.study.repeated_runs import read_repeated

    found = study(read_repeated(folders, least=2), by)
    voice.result("\n".join(lines(found)))
    voice.document(found.as_json())


def _chart(voice: Voice, folders: list[Path], at: float | None) -> bool:
    """Print the chart; True when the latest run stands in no signal."""
    from acquire.cli.result_text import chart_columns
    from acquire.study.reference_chart import LEAST_RUNS, reference_study
    from acquire.study.reference_text import lines
    from acquire.study.repeated_runs import read_repeated

    found = reference_study(read_repeated(folders, least=LEAST_RUNS), at)
    voice.result("\n".join(lines(found, columns=chart_columns())))
    voice.document(found.as_json())
    return found.in_control
