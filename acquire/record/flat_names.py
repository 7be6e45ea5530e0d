"""Names of a record's files where they can have no folder: inside a PDF, and just taken out of it.

Common tools refuse, or spoil, names with a slash when they take files out of a PDF, so
`attachments/x` travels as `attachments+x`. A folder with files so named, and without a folder
`attachments`, is the same record: it is verified and shown as it is, and not written to.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from acquire.errors import RunFileError
from acquire.record.files import file_error
from acquire.record.seal import ATTACHMENTS

_NESTED, _FLAT = f"{ATTACHMENTS}/", f"{ATTACHMENTS}+"


def flat_name(name: str) -> str:
    """The name in a PDF of a file of a record."""
    return f"{_FLAT}{name.removeprefix(_NESTED)}" if name.startswith(_NESTED) else name


def lies_flat(folder: Path) -> bool:
    """True where the attachments lie beside the other files, as they come out of a PDF.

    Raises:
        RunFileError: If the folder cannot be read.
    """
    return bool(_flat_in(folder))


def _flat_in(folder: Path) -> list[Path]:
    attachments = folder / ATTACHMENTS
    try:
        if attachments.exists() or attachments.is_symlink():
            return []
        return [path for path in folder.iterdir() if path.name.startswith(_FLAT)]
    except OSError as error:
        raise file_error(folder, error, "read") from error


def names_in_record(paths: Iterator[Path], folder: Path) -> dict[str, Path]:
    """Each file by the name it has in the seal."""
    flat = lies_flat(folder)
    names = ((path.relative_to(folder).as_posix(), path) for path in paths)
    return {_nested(name) if flat else name: path for name, path in names}


def _nested(name: str) -> str:
    return f"{_NESTED}{name.removeprefix(_FLAT)}" if name.startswith(_FLAT) else name


def attachments_in(folder: Path) -> dict[str, Path]:
    """The files of notes, by their names in `attachments`; none where that is a link.

    Raises:
        RunFileError: If the folder cannot be read.
    """
    attachments = folder / ATTACHMENTS
    if attachments.is_dir() and not attachments.is_symlink():
        return {path.name: path for path in attachments.iterdir()}
    return {path.name.removeprefix(_FLAT): path for path in _flat_in(folder)}


def refuse_to_write_flat(folder: Path) -> None:
    """Nothing is added to a record as it came out of a PDF.

    Raises:
        RunFileError: If it is one.
    """
    if lies_flat(folder):
        raise RunFileError(
            folder,
            "lies as it came out of a PDF; nothing can be added to it like this.",
            what_to_do=f"Make a folder {ATTACHMENTS} in it, move every file {_FLAT}NAME there, "
            "named NAME.",
        )
