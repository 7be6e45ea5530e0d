"""`steadyamps verify`, `note` and `key`: what became of a record, what is added, who signs."""

from __future__ import annotations

import getpass
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from acquire.cli import completing
from acquire.cli.voice import Voice, refusal_of
from acquire.errors import OrderError
from profiles.errors import BenchError

if TYPE_CHECKING:
    from acquire.record.sealings import Sealing
    from acquire.record.verify import VerifyReport

UNKNOWN_KEY = "neither this workshop's nor among the trusted keys of the settings"
key_app = typer.Typer(
    name="key",
    help="The workshop's signing key.\n\nExample: steadyamps key show",
    no_args_is_help=True,
)


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("verify")(verify)
    app.command("note")(note)
    app.add_typer(key_app)


def verify(
    context: typer.Context,
    runs: Annotated[
        list[str],
        typer.Argument(metavar="RUN...", autocompletion=completing.runs, help="Run folders."),
    ],
) -> int:
    """Check every byte of each run against its seal.

    Of several, what is no run is named, and the others are checked.

    Example: steadyamps verify RUN
    """
    from acquire.cli.exit_codes import Exit
    from acquire.cli.places import run_folder
    from acquire.record.signing import known_keys
    from acquire.record.verify import verify as check

    voice: Voice = context.obj
    trusted = known_keys(lambda words: voice.talk(f"  ! {words}"))
    sealed: list[bool] = []
    documents: list[dict[str, object]] = []
    for run in runs:
        try:
            report = check(run_folder(voice, run), trusted)
        except BenchError as error:
            if len(runs) == 1:
                raise
            voice.result(f"{error}")
            documents.append(_no_run(run, error))
            continue
        for line in _report_lines(report):
            voice.result(line)
        sealed.append(report.sealed)
        documents.append(report.as_json())
    voice.document(documents[0] if len(documents) == 1 else documents)
    if not all(sealed):
        return Exit.FAIL
    return Exit.OK if len(sealed) == len(runs) else Exit.USAGE


def _report_lines(report: VerifyReport) -> Iterator[str]:
    """What became of one record."""
    name = report.folder.resolve().name  # of `.` too
    if report.sealed:
        whole = "complete run" if report.complete else "run stopped early"
        yield f"{name}: as sealed on {report.sealed_utc} ({whole})."
    else:
        yield f"{name}: NOT as sealed."
    yield from (f"  ! {problem}" for problem in report.problems)
    yield from (f"  {line}" for line in _seal_lines(report.seals))
    yield from (f"  beside the seal, not judged: {aside}" for aside in report.aside)


def _no_run(named: str, error: BenchError) -> dict[str, object]:
    """The entry of what is no run, among several: the names of all entries, and why it is none."""
    return {
        "run": named,
        "sealed": False,
        "complete": False,
        "changed": [],
        "signature": "none",
        "key": None,
        "known": False,
        **refusal_of(error),
    }


def _seal_lines(seals: Sequence[Sealing]) -> Iterator[str]:
    """Who sealed it; where it was sealed more than once, each time for itself."""
    for one in seals:
        told = _signed_words(one)
        if one.signature == "none" and one is seals[-1]:
            told += ": whoever can write the folder could seal it anew"
        if len(seals) == 1:
            yield told
        else:
            sealed = Path(one.note).stem if one.note else "the test"
            yield f"{sealed}, sealed on {one.sealed_utc}: {told}"


def _signed_words(one: Sealing) -> str:
    if one.signature == "none":
        return "not signed"
    key = f"{one.key[:16]}…"
    if one.signature == "invalid":
        return f"its signature is NOT that of key {key}"
    return f"signed with key {key}, {'known' if one.known else UNKNOWN_KEY}"


def note(
    context: typer.Context,
    run: Annotated[
        str, typer.Argument(metavar="RUN", autocompletion=completing.runs, help="A run folder.")
    ],
    text: Annotated[
        str, typer.Option(metavar="T", help="What is to be said; may be left out with --file.")
    ] = "",
    file: Annotated[
        list[str] | None, typer.Option(metavar="F", help="A photo or file; may be repeated.")
    ] = None,
    who: Annotated[str | None, typer.Option(metavar="NAME", help="Who says it.")] = None,
    why: Annotated[str, typer.Option(metavar="T", help="Why it is added.")] = "",
) -> int:
    """Add a sealed note, a photo or a file to a run.

    Nothing in it is edited.

    Example: steadyamps note RUN --text "brush holder replaced" --file before.jpg
    """
    from acquire.cli.exit_codes import Exit
    from acquire.cli.places import run_folder
    from acquire.record.add_note import add_note
    from acquire.record.signing import workshop_key

    voice: Voice = context.obj
    added = add_note(
        run_folder(voice, run),
        text,
        who=who or _user(),
        why=why,
        attach=[Path(one) for one in file or ()],
        key=workshop_key(),
    )
    voice.result(added.added_words)
    files = [one.name for one in added.files]
    voice.document({"note": added.file, "files": files, "sealed": added.sealed})
    return Exit.OK


def _user() -> str:
    """The name this computer knows the user by.

    Raises:
        OrderError: If it knows none, as where the system keeps no list of users.
    """
    try:
        return getpass.getuser()
    except (ImportError, KeyError, OSError) as error:
        raise OrderError(
            "It is not known who says this.", what_to_do="Name the person: --who NAME."
        ) from error


@key_app.command("new")
def new_key(context: typer.Context) -> int:
    """Make the workshop's signing key.

    From then on every record is signed with it.

    Example: steadyamps key new
    """
    from acquire.cli.exit_codes import Exit
    from acquire.record.keys import new_key as make
    from acquire.record.keys import public_path
    from acquire.record.signing import key_path

    voice: Voice = context.obj
    path = key_path()
    key = make(path)
    voice.result(f"Made {path} (yours alone; keep a copy in a safe place).")
    voice.result(f"Public half, to be given away: {public_path(path)}")
    voice.result(f"Fingerprint: {key.public.fingerprint}")
    voice.document(
        {
            "key": str(path),
            "public": str(public_path(path)),
            "fingerprint": key.public.fingerprint,
        }
    )
    return Exit.OK


@key_app.command("show")
def show_key(context: typer.Context) -> int:
    """Show the public half of the workshop's key.

    Example: steadyamps key show
    """
    from acquire.cli.exit_codes import Exit
    from acquire.record.signing import key_path, workshop_key

    voice: Voice = context.obj
    key = workshop_key()
    if key is None:
        voice.result(f"No key yet: `steadyamps key new` makes {key_path()}.")
        voice.document({"key": None})
        return Exit.FAIL
    voice.result(key.public.pem.rstrip("\n"))
    voice.result(f"Fingerprint: {key.public.fingerprint}")
    voice.document(
        {"key": str(key_path()), "pem": key.public.pem, "fingerprint": key.public.fingerprint}
    )
    return Exit.OK
