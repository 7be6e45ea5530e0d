"""Notes, photos and files that were added to a run.

Each note is `attachments/note-0001.json` (and so on) with who, when, why, the hashes of its
files, and the seal the run had before, whole. Its files lie beside it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from acquire.record.flat_names import attachments_in
from acquire.record.json_text import many_lines, read_json
from acquire.record.migrate import NOTE_STEPS, SCHEMA, up_to_date
from acquire.record.other_hands import as_we_write
from acquire.record.seal import ATTACHMENTS

_NOTE = re.compile(r"note-([0-9]{4})\.json")
_FILE_OF_A_NOTE = re.compile(r"\d{4}-[^/\\]+", re.ASCII)
Kind = TypeVar("Kind")


@dataclass(frozen=True, slots=True)
class Attached:
    """One file of a note."""

    name: str
    """Its name in `attachments`."""
    original: str
    """The name it came with."""
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Note:
    """What was added to a run, by whom, when and why."""

    number: int
    utc: str
    who: str
    why: str
    text: str
    files: tuple[Attached, ...] = ()
    data: Mapping[str, Any] | None = None
    """Figures, such as a second verdict."""
    seal_key: str | None = None
    """Fingerprint of the key of the new seal, or `none`; None in a run not yet sealed."""
    former_seal: Mapping[str, Any] | None = None

    @property
    def file(self) -> str:
        """Where it is kept, from the run folder."""
        return f"{ATTACHMENTS}/note-{self.number:04d}.json"

    @property
    def sealed(self) -> bool:
        """The run was sealed anew with it; one that has not ended is sealed with it at its end."""
        return self.seal_key is not None

    @property
    def added_words(self) -> str:
        """As in `Added as attachments/note-0001.json, sealed.`"""
        if self.sealed:
            return f"Added as {self.file}, sealed."
        return (
            f"Added as {self.file}, not sealed yet: this run has not ended, and is sealed with it"
            " at its end."
        )

    def as_bytes(self) -> bytes:
        """The file's content."""
        return many_lines(
            {
                "schema": SCHEMA,
                "note": self.number,
                "utc": self.utc,
                "who": self.who,
                "why": self.why,
                "text": self.text,
                "files": [
                    {"name": f.name, "original": f.original, "bytes": f.size, "sha256": f.sha256}
                    for f in self.files
                ],
                "data": self.data,
                "seal_key": self.seal_key,
                "former_seal": self.former_seal,
            }
        )


def read_notes(folder: Path) -> tuple[Note, ...]:
    """The notes of a run, oldest first.

    Raises:
        RunFileError: If a note cannot be read.
    """
    there = attachments_in(folder)
    names = sorted(name for name in there if _NOTE.fullmatch(name))
    return tuple(_note_from(there[name]) for name in names)


def _note_from(path: Path) -> Note:
    table = up_to_date(path, read_json(path), steps=NOTE_STEPS)
    with as_we_write(path, "a note"):
        return Note(
            number=_of_kind(table["note"], int),
            utc=_of_kind(table["utc"], str),
            who=_of_kind(table["who"], str),
            why=_of_kind(table["why"], str),
            text=_of_kind(table["text"], str),
            files=tuple(_attached(one) for one in table["files"]),
            data=_or_none(table["data"], dict),
            seal_key=_or_none(table["seal_key"], str),
            former_seal=_or_none(table["former_seal"], dict),
        )


def _attached(one: Mapping[str, object]) -> Attached:
    name = _of_kind(one["name"], str)
    if not _FILE_OF_A_NOTE.fullmatch(name):
        raise ValueError(f"{name[:40]} is no name of a file that a note has")
    original, sha256 = _of_kind(one["original"], str), _of_kind(one["sha256"], str)
    return Attached(name, original, _of_kind(one["bytes"], int), sha256)


def _of_kind(value: object, kind: type[Kind]) -> Kind:
    if type(value) is not kind:
        raise TypeError(f"{value!r:.30} stands where {kind.__name__} belongs")
    return value


def _or_none(value: object, kind: type[Kind]) -> Kind | None:
    return None if value is None else _of_kind(value, kind)
