"""`steadyamps replay`: the steady points again from the raw samples."""

from __future__ import annotations

from pathlib import Path
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
    from acquire.record.damage import damaged
    from acquire.record.read_run import read_run
    from acquire.replay import replay as again

    voice: Voice = context.obj
    record = read_run(run_folder(voice, run))
    result, damage = again(record), list(damaged(record))
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
    for one_file in damage:
        voice.result(f"  ! {one_file}")
    if not result.same and not damage:
        _say_what_was_changed(voice, record.folder)
    voice.document(
        {
            "identical": result.same,
            "readings": result.readings,
            "recorded_by": result.recorded_by,
            "damaged": [asdict(one_file) for one_file in damage],
            "points": [{**asdict(row.measured), "text": row.measured_text} for row in result.rows],
            "differences": [
                {"step": d.step, "recorded": d.recorded, "replayed": d.replayed}
                for d in result.differences
            ],
        }
    )
    return Exit.OK if result.same else Exit.FAIL


def _say_what_was_changed(voice: Voice, folder: Path) -> None:
    """A figure that was exchanged reads as well as the true one; only the seal tells."""
    from acquire.record.verify import verify

    for problem in verify(folder).problems:
        if problem.wrong in ("changed", "chain", "former seal"):
            voice.result(f"  ! {problem}")
