"""The command `steadyamps`: global options, and the commands by name."""

from __future__ import annotations

import sys
from typing import Annotated, Any

import typer

from acquire.cli import completing
from acquire.cli.exit_codes import Exit
from acquire.cli.plain_signs import in_utf8, never_fails
from acquire.cli.voice import Voice, refusal, refusal_of
from acquire.version import __version__
from profiles.errors import BenchError
from profiles.plain_text import visible_lines

USAGE_ERROR: Any = typer.BadParameter.__mro__[2]
"""The base of all usage errors. Typer may carry its own copy of the library below it, so the class
is found from what typer itself exports: bad parameter, usage error, this one."""

app = typer.Typer(
    name="steadyamps",
    help="Judges rebuilt alternators on a test rig: drives the speed sweep, knows when a reading"
    " has settled, fits the output curve, gives a verdict, and keeps a record.\n\n"
    "Example: steadyamps sweep --rig simulated --rated small-frame-14v-90a --yes",
    no_args_is_help=False,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"steadyamps {__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def steadyamps(
    context: typer.Context,
    json: Annotated[
        bool, typer.Option("--json", help="One JSON document on stdout, all else on stderr.")
    ] = False,
    shelf: Annotated[
        str | None, typer.Option("--shelf", metavar="DIR", help="Where runs live.")
    ] = None,
    no_mouse: Annotated[
        bool, typer.Option("--no-mouse", help="Screens: leave the mouse to the terminal.")
    ] = False,
    glyphs: Annotated[
        str | None,
        typer.Option(
            "--glyphs",
            metavar="full|ascii",
            autocompletion=completing.one_of("full", "ascii"),
            help="Screens: which signs.",
        ),
    ] = None,
    light: Annotated[
        bool | None, typer.Option("--light/--dark", help="Screens: light or dark paper.")
    ] = None,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Without a command the screens open."""
    if glyphs not in (None, "full", "ascii"):
        raise typer.BadParameter("write full or ascii", param_hint="--glyphs")
    if json:
        in_utf8(sys.stdout)
    context.obj = Voice(json=json, shelf=shelf, mouse=not no_mouse, glyphs=glyphs, light=light)
    if context.invoked_subcommand is None:
        from acquire.cli.screens_command import open_screens

        raise typer.Exit(open_screens(context.obj))


def _register() -> None:
    from acquire.cli import (
        compare_command,
        doctor_command,
        fit_command,
        judge_command,
        match_command,
        ports_command,
        profiles_command,
        record_commands,
        replay_command,
        report_command,
        resume_command,
        rig_commands,
        shelf_commands,
        sweep_command,
    )

    for commands in (
        sweep_command,
        resume_command,
        replay_command,
        report_command,
        judge_command,
        fit_command,
        compare_command,
        match_command,
        record_commands,
        shelf_commands,
        rig_commands,
        ports_command,
        profiles_command,
        doctor_command,
    ):
        commands.register(app)


_register()


def main() -> None:
    """Run one command; every error of ours becomes a sentence and an exit code."""
    for stream in (sys.stdout, sys.stderr):
        never_fails(stream)
    sys.exit(run(sys.argv[1:]))


INTERRUPTED = 130
"""How the command-line library tells of a Ctrl-C that nobody waited for."""


def run(arguments: list[str]) -> int:
    """Run one command and return its exit code."""
    voice = Voice(json=_asks_for_json(arguments))
    try:
        outcome = app(args=arguments, prog_name="steadyamps", standalone_mode=False)
    except typer.Exit as end:
        return end.exit_code
    except typer.Abort:
        return _stopped(voice, "Stopped.")
    except USAGE_ERROR as error:
        error.message = visible_lines(error.message)
        error.show()
        voice.document(refusal("Usage", *_usage_words(error)))
        return Exit.USAGE
    except BenchError as error:  # first: that nobody answers is an OSError too
        print(visible_lines(str(error)), file=sys.stderr)
        voice.document(refusal_of(error))
        return code_of(error)
    except OSError as error:
        if "--install-completion" not in arguments:
            raise
        print(f"Completion cannot be put in place ({error}).", file=sys.stderr)
        return Exit.USAGE
    if outcome == INTERRUPTED:  # in a sweep its own watch has it
        return _stopped(voice, "Stopped: Ctrl-C was pressed.")
    return outcome if isinstance(outcome, int) else Exit.OK


def _usage_words(error: typer.BadParameter) -> tuple[str, str]:
    """What was wrong and what to do; of a group without a command not its whole help."""
    context = error.ctx
    if context is None:
        return error.format_message(), "`steadyamps --help` shows what it takes."
    path = context.command_path
    if type(error).__name__ == "NoArgsIsHelpError":
        names = ", ".join(getattr(context.command, "commands", ()))
        return f"{path}: which of its commands is not said.", f"Add one of these: {names}."
    return error.format_message(), f"`{path} --help` shows what it takes."


def _stopped(voice: Voice, words: str) -> Exit:
    print(words, file=sys.stderr)
    voice.document(refusal("Stopped", words))
    return Exit.STOPPED


def _asks_for_json(arguments: list[str]) -> bool:
    """True where `--json` stands among the options before the command."""
    waiting = iter(arguments)
    for word in waiting:
        if word in ("--shelf", "--glyphs"):
            next(waiting, None)
        elif not word.startswith("-"):
            return False
        elif word == "--json":
            return True
    return False


def code_of(error: BenchError) -> Exit:
    """The exit code that goes with an error of ours."""
    from acquire.errors import CutOffError
    from drivers.errors import InstrumentError

    if isinstance(error, CutOffError):
        return Exit.STOPPED
    return Exit.NOT_USABLE if isinstance(error, InstrumentError) else Exit.USAGE
