"""Where runs live, by options and settings."""

from __future__ import annotations

from glob import escape
from pathlib import Path

from acquire.cli.voice import Voice
from acquire.errors import OrderError
from acquire.record.run_name import FOUR_LETTERS, too_short_an_ending
from acquire.record.shelf_folder import readable, writable
from acquire.typed_path import is_there, typed_path


def shelf_folder(voice: Voice) -> Path:
    """The folder of runs: --shelf, else the settings, else the platform's user data folder."""
    if voice.shelf is not None:
        return typed_path(voice.shelf)
    from acquire.shelf.where import settings_folder

    return settings_folder()


def shelf_to_read(voice: Voice) -> Path:
    """The folder of runs, to be looked into.

    Raises:
        RunFileError: If somebody named it and it is not there.
    """
    return readable(shelf_folder(voice))


def shelf_to_write(voice: Voice) -> Path:
    """The folder of runs, for a new run.

    Raises:
        RunFileError: If it is not there and cannot be made by adding its last folder.
    """
    return writable(shelf_folder(voice))


def run_folder(voice: Voice, named: str) -> Path:
    """The run folder meant: a path, the name of a folder on the shelf, or its last letters.

    What the folder does not have is asked of the shelf's index: the run may be another bench's.
    What names nothing is given back as a path, for the reader of runs to say so.

    Raises:
        OrderError: If several runs on the shelf end like this, too few letters were typed, or the
            run lies where it cannot be reached from here.
        RunFileError: If the shelf is not there.
        ShelfError: If the index names several such runs, or its server is away.
    """
    path = typed_path(named)
    if is_there(path) or not named or len(path.parts) != 1:
        return path
    shelf = shelf_to_read(voice)
    if is_there(shelf / named) and (shelf / named).is_dir():
        return shelf / named
    alike = sorted(found for found in shelf.glob(f"*-{escape(named)}") if found.is_dir())
    if len(alike) > 1:
        raise OrderError(
            f"Several runs on {shelf} end in '{named}': {', '.join(one.name for one in alike)}.",
            what_to_do="Write the whole name of the folder.",
        )
    if not alike and too_short_an_ending(named):
        raise OrderError(f"There is no run or file {named}.", what_to_do=FOUR_LETTERS)
    return alike[0] if alike else _by_the_index(shelf, named) or path


def _by_the_index(folder: Path, named: str) -> Path | None:
    """The folder of a run that the index knows; None where it knows none."""
    from acquire.shelf.errors import NoSuchRun
    from acquire.shelf.shelf import open_shelf
    from acquire.shelf.where import server_of

    with open_shelf(folder, server_of(folder)) as shelf:
        try:
            entry = shelf.find(named)
        except NoSuchRun as error:
            if shelf.away:
                raise NoSuchRun(error.message, what_to_do=shelf.away) from error
            return None
    if not entry.is_here:
        raise OrderError(
            f"{named}: {entry.elsewhere}",
            what_to_do="Do it on that bench, or copy the run's folder onto this shelf.",
        )
    return entry.path
