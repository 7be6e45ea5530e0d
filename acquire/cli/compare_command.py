"""`steadyamps compare`: before and after the rebuild."""

from __future__ import annotations

from typing import Annotated

import typer

from acquire.cli import completing
from acquire.cli.voice import Voice


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("compare")(compare)


def compare(
    context: typer.Context,
    before: Annotated[
        str, typer.Argument(metavar="BEFORE", autocompletion=completing.runs, help="A run folder.")
    ],
    after: Annotated[
        str, typer.Argument(metavar="AFTER", autocompletion=completing.runs, help="A run folder.")
    ],
) -> int:
    """Show the change at each speed, with its uncertainty.

    Example: steadyamps compare RUN-BEFORE RUN-AFTER
    """
    from acquire.cli.exit_codes import Exit
    from acquire.cli.places import run_folder
    from acquire.comparing import compare_runs, comparison_lines
    from acquire.record.read_run import read_run

    voice: Voice = context.obj
    result = compare_runs(read_run(run_folder(voice, before)), read_run(run_folder(voice, after)))
    voice.result("\n".join(comparison_lines(result)))
    voice.document(result.as_json())
    return Exit.OK
