"""Adds a note, a photo or a file to a run and seals it anew; what is there is never edited."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from acquire.errors import RunFileError
from acquire.record.files import DISK, PART, Files, file_error, replace_file, translated, write_all
from acquire.record.flat_names import refuse_to_write_flat
from acquire.record.json_text import read_json
from acquire.record.notes import Attached, Note
from acquire.record.run_header import read_header
from acquire.record.run_name import safe_label, utc_text
from acquire.record.seal import ATTACHMENTS, CHUNK, SEAL_FILE, key_facts, leftovers, seal_bytes
from acquire.record.verify import verify
from drivers.clock import Clock, RealClock

if TYPE_CHECKING:
    from acquire.record.keys import SigningKey

LONGEST_TEXT = 100_000
"""Characters of one note."""


def add_note(
    folder: Path,
    text: str,
    *,
    who: str,
    why: str = "",
    attach: Sequence[Path] = (),
    data: Mapping[str, Any] | None = None,
    key: SigningKey | None = None,
    clock: Clock | None = None,
    files: Files = DISK,
) -> Note:
    """Add a note to a run and seal it anew; a run still running is sealed at its end.

    Raises:
        RunFileError: If the run is not as sealed (a new seal would cover that up), if it is
            signed and no key is given, if the note would hold nothing, or if a file cannot be read
            or written.
    """
    folder = Path(folder)
    header = read_header(folder)
    refuse_to_write_flat(folder)
    if not text.strip() and not attach and data is None:
        raise RunFileError(
            folder, "the note would be empty.", what_to_do="Write a text, or name a photo or file."
        )
    if len(text) > LONGEST_TEXT:
        raise RunFileError(folder, "the note is too long.", what_to_do="Attach it as a file.")
    with translated(folder):
        for path in leftovers(folder):
            files.remove(path)
    former = None if header.state == "running" else _sound_seal(folder, key)
    utc = utc_text((clock or RealClock()).utc())
    number = _next_number(folder)
    _make_attachments(folder, files)
    attached = tuple(
        _attach(path, folder, f"{number:04d}-{place}", files)
        for place, path in enumerate(attach, start=1)
    )
    seal_key = key_facts(key)["seal_key"] if former is not None else None
    note = Note(number, utc, who, why, text, attached, data, seal_key, former)
    replace_file(files, folder / note.file, note.as_bytes())
    if former is not None:
        seal = seal_bytes(folder, header, sealed_utc=utc, key=key, header_stays=True)
        replace_file(files, folder / SEAL_FILE, seal)
    return note


def _sound_seal(folder: Path, key: SigningKey | None) -> dict[str, Any]:
    report = verify(folder)
    if not report.sealed:
        raise RunFileError(
            folder,
            f"is not as it was sealed ({report.problems[0]}); a note would cover that up.",
            what_to_do="`steadyamps verify` names everything. Fetch the run from a copy, or move "
            "files away that do not belong to it.",
        )
    if any(one.signed for one in report.seals) and key is None:
        raise RunFileError(
            folder,
            "is signed, and no signing key is at hand.",
            what_to_do="Set [seal] key in the settings; a note must not take the signature away.",
        )
    table = read_json(folder / SEAL_FILE)
    return table if isinstance(table, dict) else {}


def _next_number(folder: Path) -> int:
    attachments = folder / ATTACHMENTS
    names = [path.name for path in attachments.iterdir()] if attachments.is_dir() else []
    # Files of an interrupted note count too: nothing is ever written over.
    taken = [int(found.group(1)) for name in names if (found := re.match(r"\D*(\d{4})", name))]
    return max(taken, default=0) + 1


def _make_attachments(folder: Path, files: Files) -> None:
    attachments = folder / ATTACHMENTS
    if attachments.is_symlink():
        raise RunFileError(attachments, "is a link.", what_to_do="Put an ordinary folder there.")
    if not attachments.is_dir():
        with translated(attachments):
            files.make_folder(attachments)
            files.sync_folder(folder)


def _attach(source: Path, folder: Path, number: str, files: Files) -> Attached:
    """Copy a file into `attachments` under a safe name."""
    source = Path(source)
    if not source.is_file():
        raise RunFileError(source, "is not a file.", what_to_do="Name the photo or file to add.")
    name = f"{number}-{_safe_name(source)}"
    target = folder / ATTACHMENTS / name
    digest, size = _copy(source, target, files)
    return Attached(name, source.name, size, digest)


def _safe_name(source: Path) -> str:
    ending = re.sub(r"[^a-z0-9]", "", source.suffix.casefold())[:8]
    # `.part` is the ending of what is not yet whole.
    return (
        f"{safe_label(source.stem)}.{ending}"
        if ending not in ("", "part")
        else safe_label(source.name)
    )


def _copy(source: Path, target: Path, files: Files) -> tuple[str, int]:
    part = target.with_name(target.name + PART)
    digest, size = hashlib.sha256(), 0
    try:
        opened = source.open("rb")
    except OSError as error:
        raise file_error(source, error, "read") from error
    with opened, translated(target):
        files.remove(part)
        handle = files.open_append(part)
        try:
            while chunk := opened.read(CHUNK):
                write_all(handle, chunk)
                digest.update(chunk)
                size += len(chunk)
            handle.sync()
        finally:
            handle.close()
        files.rename(part, target)
        files.sync_folder(target.parent)
    return digest.hexdigest(), size
