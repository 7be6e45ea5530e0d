"""Opening an interrupted run again, to go on in the same folder.

Nothing is thrown away: bytes of cut lines and a former seal go whole into the journal before they
leave their own files. A power cut in the midst of reopening leaves a run that opens again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from acquire.errors import RunFileError
from acquire.record.curve_table import CURVE_FILE, CurveRead, CurveRow, read_curve
from acquire.record.cut_tail import CutTail
from acquire.record.files import DISK, Files, replace_file, translated
from acquire.record.flat_names import refuse_to_write_flat
from acquire.record.former_seals import FORMER_SEAL, RESUMED
from acquire.record.growing_file import GrowingFile
from acquire.record.journal import (
    JOURNAL_FILE,
    LARGEST_JOURNAL,
    JournalChain,
    JournalEntry,
    JournalRead,
    read_journal,
)
from acquire.record.json_text import bytes_as_text, parse, read_bounded
from acquire.record.other_hands import as_we_write
from acquire.record.read_run import with_rows_of_the_journal
from acquire.record.run_folder import RunFolder, WrittenSoFar
from acquire.record.run_header import RUN_FILE, RunHeader, read_header
from acquire.record.run_name import utc_of, utc_text
from acquire.record.run_time import DECIMALS
from acquire.record.samples import SAMPLES_FILE, SamplesRead, check_samples
from acquire.record.seal import SEAL_FILE, key_facts, leftovers
from acquire.record.sync_thread import SYNC_EVERY_S
from acquire.record.verdict_file import VERDICT_FILE
from acquire.record.verify import verify
from drivers.clock import Clock, wall_utc

if TYPE_CHECKING:
    from acquire.record.keys import SigningKey

LONGEST_S = 1e9
"""No run lasts thirty years [s]."""

CUT_BYTES = "cut bytes"
PIECE = 100_000
"""Bytes of a cut end that go into one journal entry."""


@dataclass(frozen=True, slots=True)
class _Found:
    """An interrupted run as it was found."""

    header: RunHeader
    journal: JournalRead
    samples: SamplesRead
    curve: CurveRead
    rows: tuple[CurveRow, ...]

    @property
    def last_s(self) -> float:
        """The run's time of the last thing written [s]."""
        return max(self.samples.last_t_s, *(entry.t_s for entry in self.journal.entries), 0.0)

    @property
    def tails(self) -> list[CutTail]:
        """The cut ends, in the order they are recorded."""
        tails = (self.journal.tail, self.samples.tail, self.curve.tail)
        return [tail for tail in tails if tail is not None]


def reopen(
    folder: Path,
    clock: Clock,
    *,
    files: Files = DISK,
    key: SigningKey | None = None,
    sync_every_s: float | None = SYNC_EVERY_S,
) -> RunFolder:
    """Open a stopped or interrupted run to go on writing it; the run's time goes on too.

    Raises:
        RunFileError: If it is complete, being written elsewhere, no run, or damaged.
    """
    folder = Path(folder)
    header = _resumable(folder)
    samples = GrowingFile(files, folder / SAMPLES_FILE, claimed=True)
    try:
        _remove(leftovers(folder), folder, files)
        found = _find(folder, header)
        _refuse_times_of_no_run(folder, found)
        already_s = _time_goes_on(found, clock)
        prev = _write_journal(folder, found, clock, already_s, key=key, files=files)
        samples.cut_to(found.samples.good_bytes)
        _mend_curve(folder, found, files)
        header = header.changed(state="running", ended_utc=None)
        replace_file(files, folder / RUN_FILE, header.as_bytes())
        _clear(folder, files)
    except BaseException:
        samples.close()
        raise
    so_far = WrittenSoFar(samples, prev, found.samples.rows, found.rows, already_s)
    return RunFolder(header, clock, files, so_far=so_far, key=key, sync_every_s=sync_every_s)


def _resumable(folder: Path) -> RunHeader:
    header = read_header(folder)
    refuse_to_write_flat(folder)
    if header.state == "complete":
        raise RunFileError(
            folder,
            "is complete; there is nothing to resume.",
            what_to_do="Begin a new run; `steadyamps note` adds to this one.",
        )
    return header


def _find(folder: Path, header: RunHeader) -> _Found:
    journal = read_journal(folder / JOURNAL_FILE, header.run_id)
    samples = check_samples(folder / SAMPLES_FILE)
    curve = read_curve(folder / CURVE_FILE)
    rows = with_rows_of_the_journal(curve.rows, journal.entries)
    return _Found(header, journal, samples, curve, rows)


def _refuse_times_of_no_run(folder: Path, found: _Found) -> None:
    """A damaged figure may read as a time after which no clock could go on."""
    if found.last_s > LONGEST_S:
        raise RunFileError(
            folder,
            f"cannot be gone on with: a time in it is {found.last_s:.3g} s.",
            what_to_do="It is damaged: `steadyamps verify` names the file. Fetch it from a copy.",
        )


def _time_goes_on(found: _Found, clock: Clock) -> float:
    """The run's time now, never before what is written already [s].

    It goes on by the wall clock from the last line of the journal, not from the beginning: the
    seconds of a simulated rig may be shorter than those on the wall.
    """
    utc, t_s = found.header.began_utc, 0.0
    if found.journal.entries:
        last = found.journal.entries[-1]
        utc, t_s = last.utc, last.t_s
    with as_we_write(JOURNAL_FILE, "a date and time"):
        since_s = (wall_utc(clock) - utc_of(utc)).total_seconds()
    return round(max(t_s + since_s, found.last_s), DECIMALS)


def _write_journal(
    folder: Path,
    found: _Found,
    clock: Clock,
    already_s: float,
    *,
    key: SigningKey | None,
    files: Files,
) -> str:
    """The journal with what was found, replaced as a whole; gives the hash of its last line."""
    path = folder / JOURNAL_FILE
    chain = JournalChain(found.journal.prev)
    utc = utc_text(wall_utc(clock))
    whole = read_bounded(path, largest=LARGEST_JOURNAL)[: found.journal.good_bytes]
    for kind, data in _entries(folder, found, already_s, key):
        whole += chain.line(JournalEntry(already_s, utc, kind, data, found.samples.rows))
    replace_file(files, path, whole)
    return chain.prev


def _entries(
    folder: Path, found: _Found, already_s: float, key: SigningKey | None
) -> Iterator[tuple[str, dict[str, object]]]:
    for tail in found.tails:
        for begin in range(0, tail.bytes_cut, PIECE):
            piece = tail.raw[begin : begin + PIECE]
            yield (
                CUT_BYTES,
                {"file": tail.file, "at_byte": tail.at_byte + begin, "raw": bytes_as_text(piece)},
            )
    if found.header.state == "stopped":
        yield from _former_seal(folder, found.journal)
    gap = {"last_t_s": found.last_s, "gap_s": round(already_s - found.last_s, DECIMALS)}
    yield RESUMED, {**gap, "steps": [row.step for row in found.rows], **key_facts(key)}


def _former_seal(folder: Path, journal: JournalRead) -> Iterator[tuple[str, dict[str, object]]]:
    path = folder / SEAL_FILE
    data = read_bounded(path) if path.exists() else b""
    seal = _parsed(data)
    kept = [entry.data.get("seal") for entry in journal.entries if entry.kind == FORMER_SEAL]
    if seal is not None and seal in kept:
        return  # a power cut in the midst of reopening: it is in the journal already
    problems = verify(folder).problems
    added = [one.file for one in problems if one.wrong == "added"]  # an interrupted note, say
    changed = [one.file for one in problems if one.wrong != "added"]
    facts = {"seal": seal, "held": not changed, "changed": changed, "added": added}
    yield FORMER_SEAL, facts if seal is not None else {**facts, "raw": bytes_as_text(data[:PIECE])}


def _parsed(data: bytes) -> object:
    """The seal as a table, or None where somebody spoilt it."""
    try:
        return parse(data)
    except ValueError:
        return None


def _mend_curve(folder: Path, found: _Found, files: Files) -> None:
    """Cut the tail off, add rows that stood in the journal only; whole rows keep their bytes."""
    path = folder / CURVE_FILE
    added = found.rows[len(found.curve.rows) :]
    if found.curve.tail is None and not added:
        return
    whole = read_bounded(path)[: found.curve.good_bytes]
    replace_file(files, path, whole + b"".join(row.line() for row in added))


def _clear(folder: Path, files: Files) -> None:
    """Take away what belonged to the former end."""
    _remove([folder / VERDICT_FILE, folder / SEAL_FILE], folder, files)


def _remove(paths: Iterable[Path], folder: Path, files: Files) -> None:
    with translated(folder):
        for path in paths:
            files.remove(path)
        files.sync_folder(folder)
