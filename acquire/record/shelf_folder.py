"""The folder where runs live: where it is unless told otherwise, and whether it is there.

Who names a shelf that is not there has most often mistyped it, or its disk is not plugged in. So
nobody is shown an empty shelf for it, and a test makes the last folder of the path but never the
ones above. The default shelf alone is made whole: nobody typed it.
"""

from __future__ import annotations

from pathlib import Path

from acquire.errors import RunFileError
from acquire.record.files import translated
from acquire.typed_path import is_there


def default_shelf() -> Path:
    """Where runs live unless told otherwise: the platform's user data folder."""
    from platformdirs import user_data_path

    return user_data_path("steadyamps", appauthor=False) / "runs"


def whether_there(shelf: Path) -> str:
    """Whether the folder is there, in a few words for the operator."""
    if shelf.is_dir():
        return "there"
    if is_there(shelf):
        return "NOT a folder: a file of that name is there"
    if _is_default(shelf) or shelf.absolute().parent.is_dir():
        return "not there yet: the first test makes it"
    return f"NOT there, and neither is the folder above it, {shelf.absolute().parent}"


def readable(shelf: Path) -> Path:
    """The same folder, for looking at the runs in it.

    Raises:
        RunFileError: If somebody named it and it is not there.
    """
    if not shelf.is_dir() and (is_there(shelf) or not _is_default(shelf)):
        raise RunFileError(
            shelf,
            "is a file, no folder." if is_there(shelf) else "there is no such folder of runs.",
            what_to_do="Look at --shelf or, in the settings, [shelf] folder: is it spelled right,"
            " and the disk plugged in?",
        )
    return shelf


def writable(shelf: Path) -> Path:
    """The same folder, for a run that is to be put into it; nothing is made yet.

    Raises:
        RunFileError: If it is not there and cannot be made by adding its last folder.
    """
    above = shelf.absolute().parent
    if is_there(shelf) and not shelf.is_dir():
        raise RunFileError(shelf, "is a file, no folder.", what_to_do="Name another shelf.")
    if not shelf.is_dir() and not _is_default(shelf) and not above.is_dir():
        raise RunFileError(
            shelf,
            f"no run can be put there: the folder above it, {above}, is not there.",
            what_to_do="Look at --shelf or, in the settings, [shelf] folder; plug the disk in, or"
            " make that folder first.",
        )
    return shelf


def make_shelf(shelf: Path) -> None:
    """Make the folder where it is missing.

    Raises:
        RunFileError: If it cannot be made, or the folder above it is missing.
    """
    writable(shelf)
    with translated(shelf):
        shelf.mkdir(parents=_is_default(shelf), exist_ok=True)


def _is_default(shelf: Path) -> bool:
    return shelf.absolute() == default_shelf().absolute()
