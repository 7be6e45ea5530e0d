"""`steadyamps replay`: the steady points again from the raw samples."""

from __future__ import annotations

from typing import Annotated

import typer

from acquire.cli import completing
from acquire.cli.voice import Voice


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("replay")(replay)


def replay(
    context: typer.Context,
    run: Annotated[
        str, typer.Argument(metavar="RUN", autocompletion=completing.runs, help="A run folder.")
    ],
) -> int:
    """Recompute the steady points from the raw samples.

    It says whether they are the same.

    Example: steadyamps replay RUN
    """
    from dataclasses import asdict

    from acquire.cli.exit_codes import Exit
    from acquire.cli.places import run_folder
    from acquire.record.read_run import read_run
    from acquire.replay import replay as again

    voice: Voice = context.obj
    result = again(read_run(run_folder(voice, run)))
    points = f"{len(result.rows)} steady points from {result.readings} readings"
    if result.same:
        voice.result(f"The same, to the last digit: {points}.")
    else:
        voice.result(f"Different: {points}.")
        for one in result.differences:
            for words in one.words:
                voice.result(f"  step {one.step}, {words}")
        if result.other_program:
            voice.result(result.other_program)
    voice.document(
        {
            "identical": result.same,
            "readings": result.readings,
            "recorded_by": result.recorded_by,
            "points": [{**asdict(row.measured), "text": row.measured_text} for row in result.rows],
            "differences": [
                {"step": d.step, "recorded": d.recorded, "replayed": d.replayed}
                for d in result.differences
            ],
        }
    )
    return Exit.OK if result.same else Exit.FAIL
