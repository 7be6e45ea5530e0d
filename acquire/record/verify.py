"""Checks a run against its seal, byte for byte, and says what was changed, added or taken away."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from acquire.errors import RunFileError
from acquire.record.flat_names import names_in_record
from acquire.record.former_seals import NO_HISTORY, FormerSeal, SealHistory, seal_history
from acquire.record.journal import JOURNAL_FILE, read_journal
from acquire.record.json_text import many_lines, parse, read_bounded
from acquire.record.run_header import RUN_FILE, RunHeader, read_header
from acquire.record.seal import (
    ATTACHMENTS,
    SEAL_FILE,
    Seal,
    SealedFile,
    files_of,
    hashed,
    is_ordinary,
    lies_outside,
    seal_from,
)
from acquire.record.sealings import Sealing, sealing_of, sealings_of, tests_own
from acquire.record.sealings import SignatureState as OfASeal

LARGEST_SEAL = 4_000_000
GROWING = ("samples.csv", JOURNAL_FILE)
SignatureState = OfASeal | Literal["unreadable"]
Wrong = Literal["changed", "missing", "added", "link", "chain", "former seal", "key", "unsealed"]


@dataclass(frozen=True, slots=True)
class SealProblem:
    """One thing that is not as sealed."""

    file: str
    wrong: Wrong
    words: str

    def __str__(self) -> str:
        return f"{self.file}: {self.words}"


@dataclass(frozen=True, slots=True)
class VerifyReport:
    """What became of a record since it was sealed."""

    folder: Path
    sealed: bool
    """A seal is there and every byte agrees with it."""
    complete: bool
    """The run went to its end."""
    problems: tuple[SealProblem, ...]
    aside: tuple[str, ...]
    """Files that lie outside the seal (reports), named but not judged."""
    signature: SignatureState
    """That of the test's own seal; `invalid` where any seal's is, `unreadable` where seal.json
    can no longer be read."""
    key: str
    """Fingerprint of the key that signed the test's own seal; empty without a signature."""
    known: bool
    """The key of the test's own seal is one of those trusted."""
    sealed_utc: str | None = None
    """When it was last sealed, be it with a note."""
    seals: tuple[Sealing, ...] = ()
    """Every seal it has or had, oldest first: the test's own, and one for each note."""

    @property
    def changed(self) -> tuple[str, ...]:
        """The files that are not as sealed, each once."""
        return tuple(dict.fromkeys(problem.file for problem in self.problems))

    def as_json(self) -> dict[str, object]:
        """The document `verify` prints."""
        return {
            "run": str(self.folder),
            "sealed": self.sealed,
            "complete": self.complete,
            "changed": list(self.changed),
            "problems": [str(problem) for problem in self.problems],
            "aside": list(self.aside),
            # a seal that cannot be read holds no valid signature; there are three words for it
            "signature": "invalid" if self.signature == "unreadable" else self.signature,
            "key": self.key or None,
            "known": self.known,
            "sealed_utc": self.sealed_utc,
            "seals": [one.as_json() for one in self.seals],
        }


def verify(folder: Path, trusted: Collection[str] = ()) -> VerifyReport:
    """Check every byte of a run against its seal; `trusted` holds fingerprints of known keys.

    Raises:
        RunFileError: If `folder` is no run, or cannot be read at all.
    """
    folder = Path(folder)
    if not (folder / RUN_FILE).exists() and not (folder / SEAL_FILE).exists():
        raise RunFileError(
            folder, "is not a run folder.", what_to_do="`steadyamps shelf list` shows the runs."
        )
    problems: list[SealProblem] = []
    header = _header(folder, problems)
    seal = _seal(folder, header, problems)
    seals: tuple[Sealing, ...] = ()
    own = None
    if seal is not None:
        problems.extend(_bytes_against_seal(folder, seal))
        history = _history(folder, seal, header, problems)
        seals = sealings_of(seal, history, trusted)
        own = sealing_of(tests_own(seal, history), history, trusted)
    if seal is not None and seal.signature_state() == "invalid":
        words = "the signature is not that of its key over this seal."
        problems.append(SealProblem(SEAL_FILE, "changed", words))
    signature = _signature(own, seals, unreadable=seal is None and (folder / SEAL_FILE).exists())
    return VerifyReport(
        folder=folder,
        sealed=seal is not None and not problems,
        complete=header is not None and header.state == "complete",
        problems=tuple(problems),
        aside=tuple(_aside(folder)),
        signature=signature,
        key=own.key if own else "",
        known=own is not None and own.known and signature == "valid",
        sealed_utc=seal.sealed_utc if seal else None,
        seals=seals,
    )


def _signature(
    own: Sealing | None, seals: tuple[Sealing, ...], *, unreadable: bool
) -> SignatureState:
    if own is None:
        return "unreadable" if unreadable else "none"
    return "invalid" if any(one.signature == "invalid" for one in seals) else own.signature


def _header(folder: Path, problems: list[SealProblem]) -> RunHeader | None:
    try:
        return read_header(folder)
    except RunFileError as error:
        problems.append(SealProblem(RUN_FILE, "changed", f"cannot be used any more ({error})"))
        return None


def _seal(folder: Path, header: RunHeader | None, problems: list[SealProblem]) -> Seal | None:
    """The seal, where there is one that counts."""
    path = folder / SEAL_FILE
    if header is not None and header.state == "running":
        words = "run.json says running: it goes on, or was interrupted (`steadyamps resume`)."
        problems.append(SealProblem(SEAL_FILE, "unsealed", words))
        if not path.exists():
            return None  # where there is one, its end was cut off or run.json was changed
    elif not path.exists():
        problems.append(SealProblem(SEAL_FILE, "missing", "the seal is missing."))
        return None
    try:
        data = read_bounded(path, largest=LARGEST_SEAL)
        table = parse(data)
        seal = seal_from(table)
        same = many_lines(table) == data and many_lines(seal.table()) == data
    except (RunFileError, ValueError) as error:
        why = str(error).rstrip(".")
        words = f"is no seal any more ({why}); whether it is signed cannot be read from it."
        problems.append(SealProblem(SEAL_FILE, "changed", words))
        return None
    if not same or hashlib.sha256(seal.listing()).hexdigest() != seal.whole:
        problems.append(SealProblem(SEAL_FILE, "changed", "the seal itself was changed."))
    return seal


def _history(
    folder: Path, seal: Seal, header: RunHeader | None, problems: list[SealProblem]
) -> SealHistory:
    """How the record came to this seal, and what of that does not agree."""
    if header is None:
        return NO_HISTORY
    if (seal.run_id, seal.state) != (header.run_id, header.state):
        problems.append(SealProblem(SEAL_FILE, "changed", "the seal is that of another run."))
    try:
        journal = read_journal(folder / JOURNAL_FILE, header.run_id)
    except RunFileError as error:
        words = f"its chain cannot be followed: {error}"
        problems.append(SealProblem(JOURNAL_FILE, "chain", words))
        return NO_HISTORY
    if journal.tail is not None:
        line = len(journal.entries) + 1
        words = f"the chain of entries is broken at line {line}."
        problems.append(SealProblem(JOURNAL_FILE, "chain", words))
    try:
        history = seal_history(folder, journal)
    except RunFileError as error:
        problems.append(SealProblem(ATTACHMENTS, "changed", f"{error}"))
        return NO_HISTORY
    problems.extend(_against_former(folder, seal, history))
    return history


def _bytes_against_seal(folder: Path, seal: Seal) -> Iterator[SealProblem]:
    there = names_in_record(files_of(folder), folder)
    sealed = seal.by_name()
    for name, file in sealed.items():
        if name not in there:
            yield SealProblem(name, "missing", "the file is missing.")
        else:
            yield from _one_file(there[name], file)
    for name, path in there.items():
        if name not in sealed:
            wrong: Wrong = "link" if path.is_symlink() else "added"
            yield SealProblem(name, wrong, _added_words(name, path))


def _one_file(path: Path, sealed: SealedFile) -> Iterator[SealProblem]:
    try:
        now = hashed(path, sealed.name)
    except RunFileError as error:
        wrong: Wrong = "link" if path.is_symlink() else "changed"
        yield SealProblem(sealed.name, wrong, error.message.removeprefix(f"{path}: "))
        return
    if now == sealed:
        return
    if now.sha256 == sealed.sha256:
        words = f"the size it gives for {sealed.name} was changed."
        yield SealProblem(SEAL_FILE, "changed", words)
        return
    if now.size < sealed.size:
        words = f"cut short: {now.size} bytes of {sealed.size} are left, or changed."
    elif now.size > sealed.size:
        words = f"longer than sealed: {now.size} bytes instead of {sealed.size}."
    else:
        words = "changed: its content is not what was sealed."
    yield SealProblem(sealed.name, "changed", words)


def _added_words(name: str, path: Path) -> str:
    if path.is_symlink():
        return "is a link; a record holds ordinary files only."
    if name.startswith(f"{ATTACHMENTS}/"):
        return "added and not sealed (an interrupted note, or put there by hand)."
    return "added and not sealed."


def _against_former(folder: Path, seal: Seal, history: SealHistory) -> Iterator[SealProblem]:
    """Resuming and adding notes seal anew: what was sealed before must still be there."""
    if history.key != seal.key:
        words = f"sealed with key {seal.key[:16]}; the record itself says {history.key[:16]}."
        yield SealProblem(SEAL_FILE, "key", words)
    for words in history.not_held:
        yield SealProblem(JOURNAL_FILE, "former seal", words)
    for one in history.former:
        yield from _one_former(folder, one, seal.by_name())


def _one_former(
    folder: Path, former: FormerSeal, now: Mapping[str, SealedFile]
) -> Iterator[SealProblem]:
    where = former.kept_in
    if former.seal.signature_state() == "invalid":
        yield SealProblem(where, "former seal", "the signature of a former seal is not right.")
    for file in former.seal.files:
        if file == now.get(file.name):
            continue
        if file.name in GROWING:
            if not _begins_with(folder / file.name, file):
                words = f"what was sealed on {former.seal.sealed_utc} is not there any more."
                yield SealProblem(file.name, "former seal", words)
        elif former.must_stay(file.name):
            words = f"changed since it was sealed on {former.seal.sealed_utc}."
            yield SealProblem(file.name, "former seal", words)


def _begins_with(path: Path, file: SealedFile) -> bool:
    try:
        if not is_ordinary(path):
            return False
        with path.open("rb") as opened:
            head = opened.read(file.size)
    except OSError:
        return False
    return len(head) == file.size and hashlib.sha256(head).hexdigest() == file.sha256


def _aside(folder: Path) -> Iterator[str]:
    for path in sorted(folder.iterdir()):
        if lies_outside(path.name) and not path.is_dir():
            yield path.name
