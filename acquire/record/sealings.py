"""Every time a record was sealed: when, for what (the test or a note), and under which key.

A note seals the whole run anew, perhaps under another key than the test was sealed with. Who
answers for the measurements is told by the test's own seal alone.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from acquire.record.former_seals import SealHistory
from acquire.record.journal import JOURNAL_FILE
from acquire.record.seal import Seal

SignatureState = Literal["valid", "invalid", "none"]


@dataclass(frozen=True, slots=True)
class Sealing:
    """One seal of a record, the present one or a former one."""

    sealed_utc: str
    what: Literal["test", "note"]
    note: str | None
    """The file of the note it was made with; None for a test's own seal."""
    signature: SignatureState
    key: str
    """Fingerprint of the key that signed; empty without a signature."""
    known: bool
    """Validly signed, and the key is one of those trusted."""

    @property
    def signed(self) -> bool:
        """There is a signature, and it is right."""
        return self.signature == "valid"

    def as_json(self) -> dict[str, object]:
        """One entry of `seals` in the document `verify` prints."""
        return {
            "sealed_utc": self.sealed_utc,
            "what": self.what,
            "note": self.note,
            "signed": self.signed,
            "signature": self.signature,
            "key": self.key or None,
            "known": self.known,
        }


def sealings_of(
    present: Seal, history: SealHistory, trusted: Collection[str]
) -> tuple[Sealing, ...]:
    """Every seal the record has or had, in the order they were made, the oldest first."""
    return tuple(sealing_of(seal, history, trusted) for seal in _in_order(present, history))


def _in_order(present: Seal, history: SealHistory) -> list[Seal]:
    """Backwards from the present seal: each note keeps the one before it, each resume too.

    Not by their times: the clock of a simulated rig runs fast.
    """
    in_notes = {one.kept_in: one.seal for one in history.former if one.kept_in != JOURNAL_FILE}
    in_journal = [one.seal for one in history.former if one.kept_in == JOURNAL_FILE]
    backwards = [present]
    while True:
        note = history.note_of(backwards[-1])
        if note in in_notes:
            backwards.append(in_notes.pop(note))
        elif in_journal:
            backwards.append(in_journal.pop())
        else:
            break
    out_of_place = sorted(in_notes.values(), key=lambda seal: seal.sealed_utc)
    return [*out_of_place, *reversed(backwards)]


def sealing_of(seal: Seal, history: SealHistory, trusted: Collection[str]) -> Sealing:
    """What is told of one seal."""
    note = history.note_of(seal)
    signature = seal.signature_state()
    return Sealing(
        sealed_utc=seal.sealed_utc,
        what="test" if note is None else "note",
        note=note,
        signature=signature,
        key=seal.key if seal.signature else "",
        known=signature == "valid" and seal.key in trusted,
    )


def tests_own(present: Seal, history: SealHistory) -> Seal:
    """The seal made when the test ended: the present one, or the one below the notes since.

    A seal of before a resume does not count: the measurements went on after it.
    """
    below = {one.kept_in: one.seal for one in history.former if not one.resumed_since}
    seal = present
    while (note := history.note_of(seal)) in below:
        seal = below.pop(note)  # each once: a record from other hands may go in a circle
    return seal
