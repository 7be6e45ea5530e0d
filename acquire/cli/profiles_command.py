"""`steadyamps profiles`: what is known, where it comes from, and what is wrong with a file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from acquire.cli import completing
from acquire.cli.number_option import number
from acquire.cli.voice import Voice
from acquire.cli.which_file import WORDS

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from profiles.catalogue import Loaded
    from profiles.errors import Problem, ProfileError
    from profiles.rig import Rig

profiles_app = typer.Typer(
    name="profiles",
    help="Rated curves, rigs and other profiles: list, show, check, new.\n\n"
    "Example: steadyamps profiles list rigs",
    no_args_is_help=True,
)


def register(app: typer.Typer) -> None:
    """Add the group of commands."""
    app.add_typer(profiles_app)


@profiles_app.command("list")
def list_profiles(
    context: typer.Context,
    kind: Annotated[
        str | None,
        typer.Argument(
            autocompletion=completing.kinds,
            help="alternators, rigs, instruments, methods or rules; default all.",
        ),
    ] = None,
) -> int:
    """List every profile that can be named.

    Example: steadyamps profiles list methods
    """
    from acquire.cli.exit_codes import Exit
    from acquire.errors import OrderError
    from profiles.catalogue import KINDS, entries, user_folder

    voice: Voice = context.obj
    wanted = [one for one in KINDS if kind in (None, one)]
    if not wanted:
        raise OrderError(
            f"'{kind}' is no kind of profile.", what_to_do=f"Kinds: {', '.join(KINDS)}."
        )
    document = {}
    for one in wanted:
        found = entries(one)
        document[one] = [
            {"name": e.name, "title": e.title, "origin": e.origin, "path": str(e.path)}
            for e in found
        ]
        voice.result(f"{one}  (yours: {user_folder(one)})")
        for entry in found:
            mark = "*" if entry.origin == "user" else " "
            voice.result(f"  {mark} {entry.name:<28} {entry.title or 'cannot be read'}")
    voice.document(document)
    return Exit.OK


@profiles_app.command("show")
def show_profile(
    context: typer.Context,
    names: Annotated[
        list[str],
        typer.Argument(
            metavar="NAME...", autocompletion=completing.profiles, help="Names or files."
        ),
    ],
) -> int:
    """Show profiles as their files have them, and where they come from.

    Example: steadyamps profiles show small-frame-14v-90a
    """
    from acquire.cli.exit_codes import Exit
    from profiles.catalogue import snapshot

    voice: Voice = context.obj
    document: list[dict[str, Any]] = []
    for name in names:
        kind, loaded = _found(name)
        place = loaded.path or "a plate"
        voice.result(f"# {kind}: {place} ({loaded.origin})")
        voice.result(loaded.text.rstrip("\n"))
        document.append({"kind": kind, "path": str(place), "values": snapshot(loaded.profile)})
    voice.document(document)
    return Exit.OK


@profiles_app.command("check")
def check_profiles(
    context: typer.Context,
    files: Annotated[
        list[str],
        typer.Argument(
            metavar="FILE...", autocompletion=completing.profiles, help="Files or names."
        ),
    ],
    live: Annotated[
        bool,
        typer.Option("--live", help="For rigs: ask each instrument once and show the raw bytes."),
    ] = False,
) -> int:
    """Check files and name every error.

    Each with file, key, what was wrong and what to do.

    `settings.toml` is checked too: that of this folder, else your own.

    Example: steadyamps profiles check my-rig.toml --live
    """
    from acquire.cli.exit_codes import Exit
    from acquire.cli.settings_check import settings_file
    from profiles.errors import ProfileError

    voice: Voice = context.obj
    document: list[dict[str, Any]] = []
    for file in files:
        settings = settings_file(file)
        if settings is not None:
            document.append({"file": file, **_settings(voice, settings)})
            continue
        try:
            document.append({"file": file, "ok": True, "problems": [], **_good(voice, file, live)})
        except ProfileError as error:
            problems = _told_problems(voice, error.problems)
            document.append({"file": file, "ok": False, "problems": problems})
    voice.document(document)
    if any(one.get("silent") for one in document):
        return Exit.NOT_USABLE
    return Exit.OK if all(one["ok"] for one in document) else Exit.USAGE


def _settings(voice: Voice, path: Path) -> dict[str, object]:
    """Check a settings file and tell every error in it, and what is weak."""
    from acquire.cli.settings_check import check_settings

    found = check_settings(path)
    problems = _told_problems(voice, found.problems)
    if not problems:
        voice.result(f"{path}: good. Settings")
    cautions = _told(voice, list(found.cautions))
    return {"ok": not problems, "problems": problems, "cautions": cautions}


def _told_problems(voice: Voice, problems: Iterable[Problem]) -> list[dict[str, str]]:
    """Tell each problem; the same for the document."""
    told = []
    for one in problems:
        voice.result(str(one))
        entry = {"file": one.file, "key": one.key, "message": one.message}
        told.append({**entry, "what_to_do": one.what_to_do})
    return told


def _good(voice: Voice, file: str, live: bool) -> dict[str, object]:
    """Check one file and tell what it is, and what is weak in it.

    Raises:
        ProfileError: With everything that is wrong.
    """
    kind, loaded = _found(file)
    voice.result(f"{file}: good. {WORDS[kind]}: {loaded.profile.title}")
    found: dict[str, object] = {"cautions": _told(voice, _doubts(kind, loaded.profile))}
    if live and kind == "rigs":
        silent = _show_raw(voice, loaded.profile)
        found |= {"ok": not silent, "silent": silent}
    return found


def _told(voice: Voice, doubts: list[str]) -> list[str]:
    for doubt in doubts:
        voice.result(f"  ! {doubt}")
    return doubts


@profiles_app.command("new")
def new_curve(
    context: typer.Context,
    name: Annotated[
        str | None, typer.Option(metavar="NAME", help="What the curve is called.")
    ] = None,
    volts: Annotated[
        float | None,
        typer.Option(parser=number, metavar="V", help="Test voltage the curve holds at."),
    ] = None,
    state: Annotated[
        str | None,
        typer.Option(
            metavar="warm|cold",
            autocompletion=completing.one_of("warm", "cold"),
            help="State it holds in.",
        ),
    ] = None,
    points: Annotated[
        str | None, typer.Option(metavar="RPM:A,RPM:A", help='As in "1500:40, 3000:78, 6000:105".')
    ] = None,
    plate: Annotated[
        str | None, typer.Option(metavar="TEXT", help='As in "45/90A 14V @1500/6000".')
    ] = None,
    csv: Annotated[
        str | None,
        typer.Option(metavar="FILE", help="Digitised points: columns shaft_rpm (or rpm) and amps."),
    ] = None,
    from_run: Annotated[
        str | None,
        typer.Option(
            metavar="RUN",
            autocompletion=completing.runs,
            help="Run of a reference unit: its steady points.",
        ),
    ] = None,
    source: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Where the figures are from.")
    ] = None,
    to: Annotated[
        str | None,
        typer.Option(metavar="FILE", help="Where to write it; default your settings folder."),
    ] = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Write over a file that is there already.")
    ] = False,
) -> int:
    """Make a rated curve.

    Without points, plate, CSV or run it is asked for step by step.

    Example: steadyamps profiles new --plate "45/90A 14V @1500/6000" --name "van, 90 A"
    """
    from acquire.cli.exit_codes import Exit
    from acquire.cli.new_rated_curve import CurveOrder, curve_lines, new_rated_curve
    from acquire.cli.places import run_folder

    voice: Voice = context.obj
    order = CurveOrder(
        name=name,
        volts=volts,
        state=state,
        points=points,
        plate=plate,
        csv=csv,
        from_run=None if from_run is None else str(run_folder(voice, from_run)),
        source=source,
        to=to,
        replace=replace,
    )
    new = new_rated_curve(order)
    voice.result("\n".join(curve_lines(new)))
    voice.document(new.as_json())
    return Exit.OK


def _doubts(kind: str, profile: object) -> list[str]:
    """What is allowed but weak in a rig: lines without a checksum."""
    from profiles.rig import Rig

    if kind != "rigs" or not isinstance(profile, Rig):
        return []
    from acquire.readiness import weak_lines

    return [f"{one.name}: {one.words}. {one.what_to_do}" for one in weak_lines(profile)]


def _show_raw(voice: Voice, rig: Rig) -> list[str]:
    """What each instrument on a wire sends, before anything is made of it; who gave nothing."""
    from drivers.raw_look import look_at
    from profiles.errors import BenchError

    silent: list[str] = []
    for name, channel in rig.channels.items():
        try:
            look = look_at(name, channel)
        except BenchError as error:
            voice.result(str(error))
            silent.append(name)
            continue
        if look is not None and not look.came:
            silent.append(name)
        for line in look.lines() if look is not None else [f"{name}: typed, or in code"]:
            voice.result(line)
    return silent


def _found(name: str) -> tuple[str, Loaded[Any]]:
    """A file whose kind its content tells, or a named profile of whatever kind."""
    from pathlib import Path

    from acquire.typed_path import is_there
    from profiles.catalogue import KINDS, check_file, entries, load
    from profiles.plate import looks_like_plate

    if Path(name).suffix == ".toml" or is_there(Path(name)):
        return check_file(name)
    for kind in KINDS:
        if any(entry.name == name for entry in entries(kind)):
            return kind, load(kind, name)
    if looks_like_plate(name):
        return "alternators", load("alternators", name)
    raise _not_found(name)


def _not_found(name: str) -> ProfileError:
    """There is no profile of this name, of whatever kind; near names of all kinds."""
    from pathlib import Path

    from acquire.typed_path import is_there
    from profiles.errors import Problem, ProfileError
    from profiles.folders import KINDS, named
    from profiles.plain_text import listed, near_names, shown

    near = near_names(name, [known for kind in KINDS for known in named(kind)])
    hint = "`steadyamps profiles list` shows them all; or give the path of a TOML file."
    if near:
        hint = f"Did you mean {listed(near)}?"
    if is_there(Path(f"{name}.toml")):
        hint = f"There is a {shown(f'{name}.toml')} in this folder: write the name with .toml."
    message = "there is no profile of this name, and no such file."
    return ProfileError([Problem(shown(name), "", message, hint)])
