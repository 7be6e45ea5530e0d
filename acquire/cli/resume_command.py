"""`steadyamps resume`: goes on with an interrupted run."""

from __future__ import annotations

from typing import Annotated

import typer

from acquire.cli import completing
from acquire.cli.voice import Voice


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("resume")(resume)


def resume(
    context: typer.Context,
    run: Annotated[
        str,
        typer.Argument(
            metavar="RUN", autocompletion=completing.runs, help="The folder of an interrupted run."
        ),
    ],
    screen: Annotated[
        bool, typer.Option("--screen/--plain", help="Full screen, or plain live lines (default).")
    ] = False,
    yes: Annotated[
        bool,
        typer.Option(
            "--yes", help="Cautions and wiring are confirmed: the shaft turns at once, unasked."
        ),
    ] = False,
) -> int:
    """Go on with an interrupted run, in its own folder.

    It begins at the first step without a steady point. Where no step is left it is judged and
    sealed; nothing is opened and nothing turns.

    Example: steadyamps resume RUN --yes
    """
    from acquire.cli.places import run_folder
    from acquire.cli.plain_run import PlainRun
    from acquire.resuming import interrupted

    voice: Voice = context.obj
    found = interrupted(run_folder(voice, run))
    done = len(found.points)
    voice.talk(f"Going on with {found.folder.name}: {done} steady points are there already.")
    if found.nothing_left(attended=not yes) and not screen:
        from acquire.cli.finish_run import finish_run

        return finish_run(voice, found, confirmed=yes)
    if screen:
        from acquire.cli.screens_command import screen_sweep

        return screen_sweep(voice, found.order, yes, found)
    return PlainRun(voice, found.order, confirmed=yes, going_on=found).run()
