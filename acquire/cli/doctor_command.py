"""`steadyamps doctor`: versions, backends, ports, settings, terminal on one screen to be copied."""

from __future__ import annotations

import typer

from acquire.cli.voice import Voice

PACKAGES = (
    "numpy",
    "scipy",
    "pydantic",
    "pyserial",
    "pyvisa",
    "pyvisa-py",
    "rich",
    "textual",
    "typer",
    "cryptography",
)


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("doctor")(doctor)


def doctor(context: typer.Context) -> int:
    """Say what this installation has and lacks, without secrets.

    Example: steadyamps doctor
    """
    from acquire.cli.exit_codes import Exit

    voice: Voice = context.obj
    facts = {
        **_program(),
        **_packages(),
        **_visa(),
        **_places(voice),
        **_terminal(),
    }
    width = max(len(name) for name in facts)
    for name, value in facts.items():
        voice.result(f"{name:<{width}}  {value}")
    voice.document(facts)
    return Exit.OK


def _program() -> dict[str, str]:
    import platform
    import sys

    from acquire.version import __version__

    return {
        "steadyamps": __version__,
        "python": f"{platform.python_version()} ({sys.executable})",
        "system": f"{platform.system()} {platform.release()} {platform.machine()}",
    }


def _packages() -> dict[str, str]:
    from importlib import metadata

    found: dict[str, str] = {}
    for name in PACKAGES:
        try:
            found[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            found[name] = "missing"
    return found


def _visa() -> dict[str, str]:
    from drivers.visa import resource_manager
    from profiles.errors import BenchError

    backends = {}
    for name, words in (("", "the system's"), ("@py", "pure Python")):
        try:
            backends[f"VISA, {words}"] = str(resource_manager(name) if name else _system_visa())
        except BenchError as error:
            backends[f"VISA, {words}"] = f"no: {error.message}"
    return backends


def _system_visa() -> object:
    from drivers.visa import resource_manager

    return resource_manager("@ivi")


def _places(voice: Voice) -> dict[str, str]:
    from acquire.cli.places import shelf_folder
    from acquire.record.shelf_folder import whether_there
    from drivers.locks import runtime_folder
    from drivers.serial_places import list_places
    from profiles.catalogue import KINDS, config_folder, entries
    from profiles.errors import BenchError
    from profiles.folders import SETTINGS_FILE

    own = sum(1 for kind in KINDS for entry in entries(kind) if entry.origin == "user")
    places, settings = list_places(), config_folder() / SETTINGS_FILE
    facts = {
        "settings folder": f"{config_folder()} ({_own_words(own)})",
        "settings file": f"{settings} ({'there' if settings.is_file() else 'none yet'})",
        "locks": str(runtime_folder()),
        "serial ports": ", ".join(p.device for p in places) or "none",
    }
    try:
        shelf = shelf_folder(voice)
        facts |= {"shelf": str(shelf), "shelf folder": whether_there(shelf)}
    except BenchError as error:
        facts["shelf"] = f"not known: {error}"
    if any(place.twins for place in places):
        facts["look out"] = "two adapters cannot be told apart: name them by their place"
    return facts


def _own_words(own: int) -> str:
    from profiles.catalogue import config_folder

    if not config_folder().is_dir():
        return "not there yet: make it, or the first file written into it does"
    return f"{own} profiles of your own"


def _terminal() -> dict[str, str]:
    import os
    import shutil
    import sys

    size = shutil.get_terminal_size()
    names = ("TERM", "COLORTERM", "NO_COLOR", "LANG")
    set_ones = ", ".join(f"{name}={os.environ[name]}" for name in names if name in os.environ)
    kind = "yes" if sys.stderr.isatty() else "no (output goes elsewhere)"
    return {"terminal": f"{kind}, {size.columns}x{size.lines}, {set_ones}"}
