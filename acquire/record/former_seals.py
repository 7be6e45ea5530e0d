"""Seals a record had before it was resumed or got a note: kept whole, and still binding."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from acquire.errors import RunFileError
from acquire.record.journal import JOURNAL_FILE, JournalEntry, JournalRead
from acquire.record.notes import Note, read_notes
from acquire.record.seal import ATTACHMENTS, NO_KEY, SEAL_FILE, Seal, seal_from

FORMER_SEAL = "former seal"
"""Kind of the journal entry that keeps a seal whole at a resume."""
RESUMED = "resumed"
BEGAN = "began"


@dataclass(frozen=True, slots=True)
class FormerSeal:
    """A seal, where it is kept, and what of it must still hold."""

    seal: Seal
    kept_in: str
    resumed_since: bool

    def must_stay(self, name: str) -> bool:
        """True when nothing since may have changed this file."""
        return not self.resumed_since or name.startswith(f"{ATTACHMENTS}/")


@dataclass(frozen=True, slots=True)
class SealHistory:
    """How a record came to its present seal."""

    former: tuple[FormerSeal, ...]
    key: str
    """Fingerprint of the key that the record itself says it is sealed with, or `none`."""
    not_held: tuple[str, ...]
    """What was not as sealed when the run was resumed: one sentence each."""
    notes: tuple[Note, ...] = ()
    """Those that sealed the run anew."""

    def note_of(self, seal: Seal) -> str | None:
        """The file of the note that this seal was made with; None: a test ended with it."""
        made = (one.file for one in self.notes if one.utc == seal.sealed_utc)
        return next((file for file in made if file in seal.by_name()), None)


NO_HISTORY = SealHistory((), NO_KEY, ())
"""That of a record whose journal or notes cannot be read any more."""


def seal_history(folder: Path, journal: JournalRead) -> SealHistory:
    """Gather the former seals from the journal (resumed) and from the notes.

    Raises:
        RunFileError: If a note, or a seal kept in one, cannot be read.
    """
    former, not_held, sealing_notes, key = [], [], [], NO_KEY
    for entry in journal.entries:
        if entry.kind in (BEGAN, RESUMED):
            key = str(entry.data.get("seal_key", NO_KEY))
        elif entry.kind == FORMER_SEAL:
            if not entry.data.get("held"):
                not_held.append(_not_held_words(entry))
            if entry.data.get("seal") is not None:
                seal = _seal(folder / JOURNAL_FILE, entry.data["seal"])
                former.append(FormerSeal(seal, JOURNAL_FILE, resumed_since=True))
    for note in read_notes(folder):
        if note.former_seal is not None:
            one = _former_of(folder, note, journal)
            former.append(one)
            sealing_notes.append(note)
            key = key if one.resumed_since else note.seal_key or NO_KEY
    return SealHistory(tuple(former), key, tuple(not_held), tuple(sealing_notes))


def _not_held_words(entry: JournalEntry) -> str:
    changed = entry.data.get("changed")
    names = ", ".join(str(name) for name in changed) if isinstance(changed, list) else ""
    return f"when it was resumed on {entry.utc} it was not as sealed: {names or SEAL_FILE}."


def _former_of(folder: Path, note: Note, journal: JournalRead) -> FormerSeal:
    """A note leaves the journal as it is; a resume makes it longer."""
    seal = _seal(folder / note.file, note.former_seal)
    sealed_journal = seal.by_name().get(JOURNAL_FILE)
    as_then = sealed_journal is not None and sealed_journal.size == journal.good_bytes
    return FormerSeal(seal, note.file, resumed_since=not as_then)


def _seal(path: Path, table: object) -> Seal:
    try:
        return seal_from(table)
    except ValueError as error:
        raise RunFileError(
            path,
            f"keeps a former seal that is none: {error}.",
            what_to_do="Fetch the run again from a copy.",
        ) from error
