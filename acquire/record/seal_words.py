"""What is told of a record's seal in one sentence, where `verify` would tell all."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from acquire.errors import RunFileError
from acquire.record.verify import VerifyReport, verify
from profiles.errors import BenchError

NAMED = 3
"""So many files that are not as sealed are named; the rest is counted."""


@dataclass(frozen=True, slots=True)
class SealWords:
    """A seal in words."""

    state: Literal["sound", "broken", "open", "unknown"]
    """`open`: the run has not ended, so there is none yet. `unknown`: it cannot be checked here."""
    words: str

    @property
    def broken(self) -> bool:
        """Something is not as it was sealed: what is shown may not be what was measured."""
        return self.state == "broken"


def look_at_seal(folder: Path) -> SealWords:
    """Check a run against its seal and say it; reads every byte of it, so call it in a thread."""
    from acquire.record.signing import known_keys

    try:
        trusted = known_keys()
    except BenchError:
        trusted = frozenset()  # the workshop's own key cannot be read: no key is known then
    try:
        return seal_words(verify(folder, trusted))
    except (RunFileError, OSError) as error:
        return SealWords("unknown", f"The seal cannot be checked: {error}")


def seal_words(report: VerifyReport) -> SealWords:
    """As in `Sealed and signed with key 366a380f0c0aeb56..., which is known here.`"""
    if report.sealed:
        return SealWords("sound", f"Sealed, {_signed_words(report)}.")
    if all(one.wrong == "unsealed" for one in report.problems):
        return SealWords("open", "Not sealed: the run has not come to its end.")
    names = report.changed
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return SealWords("broken", f"NOT as sealed: {', '.join(names[:NAMED])}{more}.")


def _signed_words(report: VerifyReport) -> str:
    if report.signature == "none":
        return "not signed"
    known = "which is known here" if report.known else "which is NOT known here"
    return f"signed with key {report.key[:16]}..., {known}"
