"""Where runs live, by options and settings."""

from __future__ import annotations

from glob import escape
from pathlib import Path

from acquire.cli.voice import Voice
from acquire.errors import OrderError
from acquire.typed_path import is_there, typed_path


def shelf_folder(voice: Voice) -> Path:
    """The folder of runs: --shelf, else the settings, else the platform's user data folder."""
    if voice.shelf is not None:
        return typed_path(voice.shelf)
    from acquire.shelf.where import settings_folder

    return settings_folder()


def run_folder(voice: Voice, named: str) -> Path:
    """The run folder meant: a path, the name of a folder on the shelf, or its last letters.

    What names nothing is given back as a path, for the reader of runs to say so.

    Raises:
        OrderError: If several runs on the shelf end like this.
    """
    path = typed_path(named)
    if is_there(path) or not named or len(path.parts) != 1:
        return path
    shelf = shelf_folder(voice)
    if is_there(shelf / named) and (shelf / named).is_dir():
        return shelf / named
    alike = sorted(found for found in shelf.glob(f"*-{escape(named)}") if found.is_dir())
    if len(alike) > 1:
        raise OrderError(
            f"Several runs on {shelf} end in '{named}': {', '.join(one.name for one in alike)}.",
            what_to_do="Write the whole name of the folder.",
        )
    return alike[0] if alike else path
