"""The folder of a run while it is written: everything as it happens, in an order that survives.

What makes it survive a power cut at any instant:

* samples and journal only grow; a cut last line is recognised when read;
* a steady point is taken in the order samples synced, journal synced, curve synced, and its row
  stands in the journal too: when `take_point` has returned, it is on the disk twice;
* whole files are replaced by rename, after their content is on the disk;
* `run.json` is written last at the beginning and last at the end, after the seal. A folder
  without it never began; while it says `running`, a seal beside it does not count.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

from acquire.errors import RunFileError
from acquire.record.bench_time import UTC_OFFSET, offset_text
from acquire.record.csvw import CSVW_FILE, curve_metadata
from acquire.record.curve_table import (
    CURVE_FILE,
    CurveRow,
    Judged,
    Measured,
    curve_bytes,
    judged_rows,
)
from acquire.record.files import DISK, Files, replace_file
from acquire.record.growing_file import GrowingFile
from acquire.record.journal import (
    AT_S,
    JOURNAL_FILE,
    STEADY_POINT,
    JournalChain,
    JournalEntry,
    first_prev,
)
from acquire.record.run_header import RUN_FILE, RunHeader, RunState
from acquire.record.run_name import new_folder, utc_text
from acquire.record.run_time import RunTime
from acquire.record.samples import HEADING as SAMPLES_HEADING
from acquire.record.samples import SAMPLES_FILE, SampleRows
from acquire.record.seal import SEAL_FILE, key_facts, seal_bytes
from acquire.record.sync_thread import SYNC_EVERY_S, SyncThread
from acquire.record.verdict_file import VERDICT_FILE, verdict_bytes
from drivers.clock import Clock, wall_utc
from drivers.readings import Reading

if TYPE_CHECKING:
    from acquire.record.keys import SigningKey


@dataclass(frozen=True, slots=True)
class WrittenSoFar:
    """Where a run stands: what its writer goes on from."""

    samples: GrowingFile
    """Open and claimed."""
    prev: str
    sample_rows: int
    curve: tuple[CurveRow, ...]
    already_s: float


class RunFolder:
    """Writes one run; every method may be called from any thread.

    After a `RunFileError` the object is still whole: what the disk refused is kept in memory and
    goes first when it takes again, and closing works.
    """

    def __init__(
        self,
        header: RunHeader,
        clock: Clock,
        files: Files,
        *,
        so_far: WrittenSoFar,
        key: SigningKey | None = None,
        sync_every_s: float | None = SYNC_EVERY_S,
    ) -> None:
        """Use `create` or `acquire.record.reopen.reopen`."""
        self.folder = folder = so_far.samples.path.parent
        self.header = header
        self.time = RunTime(clock, already_s=so_far.already_s)
        self._clock = clock
        self._files = files
        self._key = key
        self._lock = threading.RLock()
        self._rows = SampleRows()
        self._sample_count = so_far.sample_rows
        self._chain = JournalChain(so_far.prev)
        self._last_s = so_far.already_s
        """Time of the last line of the journal [s]."""
        self._curve = list(so_far.curve)
        self._samples = so_far.samples
        with contextlib.ExitStack() as when_it_fails:
            when_it_fails.callback(self._samples.close)
            self._journal = GrowingFile(files, folder / JOURNAL_FILE)
            when_it_fails.callback(self._journal.close)
            self._curve_file = GrowingFile(files, folder / CURVE_FILE)
            when_it_fails.pop_all()
        growing = (self._samples, self._journal)
        self._sync_thread = SyncThread(growing, sync_every_s) if sync_every_s else None
        self._closed = False

    @classmethod
    def create(
        cls,
        shelf: Path,
        header: RunHeader,
        clock: Clock,
        *,
        files: Files = DISK,
        key: SigningKey | None = None,
        sync_every_s: float | None = SYNC_EVERY_S,
    ) -> RunFolder:
        """Make the folder of a run that begins now, under `shelf`.

        `run_id`, `began_utc` and the bench's offset from UTC (in `host`) are set here. `key` seals
        the run at its end.

        Raises:
            RunFileError: If the folder cannot be made or written.
        """
        began = wall_utc(clock)
        folder = new_folder(shelf, began, header.label, files)
        header = header.changed(
            run_id=folder.name,
            began_utc=utc_text(began),
            ended_utc=None,
            state="running",
            host={**header.host, UTC_OFFSET: offset_text(clock.utc_offset())},
        )
        replace_file(files, folder / SAMPLES_FILE, SAMPLES_HEADING)
        replace_file(files, folder / JOURNAL_FILE, b"")
        replace_file(files, folder / CURVE_FILE, curve_bytes(()))
        replace_file(files, folder / CSVW_FILE, curve_metadata())
        samples = GrowingFile(files, folder / SAMPLES_FILE, claimed=True)
        so_far = WrittenSoFar(samples, first_prev(folder.name), 0, (), 0.0)
        run = cls(header, clock, files, so_far=so_far, key=key, sync_every_s=sync_every_s)
        try:
            run.append("began", {"program": header.program, **key_facts(key)}, sync=True)
            replace_file(files, folder / RUN_FILE, header.as_bytes())
        except RunFileError:
            with contextlib.suppress(RunFileError):
                run.close()  # it never began; nothing of it stays open
            raise
        return run

    @property
    def curve(self) -> tuple[CurveRow, ...]:
        """The steady points so far."""
        return tuple(self._curve)

    @property
    def sample_rows(self) -> int:
        """Rows of samples.csv so far."""
        return self._sample_count

    def add_readings(self, readings: Iterable[Reading]) -> None:
        """Write a batch of readings whose `t_s` counts from the start (see `time.reading`).

        Handed to the system at once; a thread of its own syncs each second.

        Raises:
            RunFileError: If the disk refuses.
        """
        readings = list(readings)
        with self._lock:
            self._must_take(self._samples)
            self._sample_count += len(readings)
            self._samples.add(self._rows.rows(readings))

    def append(
        self,
        kind: str,
        data: Mapping[str, Any] | None = None,
        *,
        t_s: float | None = None,
        sync: bool = False,
    ) -> JournalEntry:
        """Write a journal entry, now or at `t_s` of the run's time.

        What happened before the entry above was written keeps its own time as `at_s` in its data,
        and stands at the time of writing: a journal never goes back.

        Raises:
            RunFileError: If the disk refuses.
            ValueError: If `data` has a key `row` or `at_s`, or the entry is over a million bytes.
        """
        data = data or {}
        if AT_S in data:
            raise ValueError(f"`{AT_S}` is the journal's own key")
        with self._lock:
            self._must_take(self._journal)
            now_s = self.time.now_s()
            at_s = now_s if t_s is None else t_s
            if at_s < self._last_s:
                data, at_s = {AT_S: at_s, **data}, max(now_s, self._last_s)
            self._last_s = at_s
            utc = utc_text(wall_utc(self._clock))
            entry = JournalEntry(at_s, utc, kind, data, self._sample_count)
            self._journal.add(self._chain.line(entry))
            if sync:
                self._journal.sync()
            return entry

    def take_point(
        self, measured: Measured, data: Mapping[str, Any] | None = None, *, t_s: float | None = None
    ) -> CurveRow:
        """Write a steady point; when this returns it is on the disk, whatever happens next.

        Raises:
            RunFileError: If the disk refuses.
            ValueError: If the step was taken already.
        """
        row = CurveRow.of(measured)
        with self._lock:
            if any(row.step == there.step for there in self._curve):
                raise ValueError(f"step {row.step} was taken already")
            self._samples.sync()
            entry = {**(data or {}), "step": row.step, "text": row.measured_text}
            self.append(STEADY_POINT, entry, t_s=t_s, sync=True)
            self._curve.append(row)
            self._curve_file.add(row.line())
            self._curve_file.sync()
        return row

    def sync(self) -> None:
        """Return when everything so far is on the disk.

        Raises:
            RunFileError: If the disk refuses.
        """
        with self._lock:
            self._samples.sync()
            self._journal.sync()

    def finish(
        self,
        state: RunState,
        *,
        judged: Mapping[int, Judged] | None = None,
        verdict: Mapping[str, Any] | None = None,
    ) -> RunHeader:
        """End the run as `complete` or `stopped`: judged columns, verdict, seal, header.

        Raises:
            RunFileError: If the disk refuses; the run is then as an interrupted one.
        """
        if state == "running":
            raise ValueError("a run that ends is complete or stopped")
        with self._lock:
            self.append("ended", {"state": state}, sync=True)
            self.close()
            self._write_results(judged or {}, verdict)
            ended = utc_text(wall_utc(self._clock))
            header = self.header.changed(state=state, ended_utc=ended)
            seal = seal_bytes(self.folder, header, sealed_utc=ended, key=self._key)
            replace_file(self._files, self.folder / SEAL_FILE, seal)
            replace_file(self._files, self.folder / RUN_FILE, header.as_bytes())
            self.header = header
        return header

    def _write_results(
        self, judged: Mapping[int, Judged], verdict: Mapping[str, Any] | None
    ) -> None:
        self._curve = list(judged_rows(self._curve, judged))
        replace_file(self._files, self.folder / CURVE_FILE, curve_bytes(self._curve))
        if verdict is not None:
            replace_file(self._files, self.folder / VERDICT_FILE, verdict_bytes(verdict))

    def close(self) -> None:
        """Sync and close the files; the run stays as it is, to be finished or resumed.

        Raises:
            RunFileError: If the disk refuses; the files are closed nevertheless.
        """
        with self._lock:
            if self._closed:
                return
            self._closed = True
            if self._sync_thread is not None:
                self._sync_thread.end()
            growing = (self._samples, self._journal, self._curve_file)
            errors = [error for file in growing if (error := file.sync_and_close()) is not None]
            if errors:
                raise errors[0]

    def __enter__(self) -> RunFolder:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _must_take(self, file: GrowingFile) -> None:
        if self._closed:
            raise RunFileError(
                self.folder, "is closed.", what_to_do="Go on with `steadyamps resume`."
            )
        if file.full:
            raise RunFileError(
                file.path,
                "has not been taken by the disk for too long; nothing more is kept in memory.",
                what_to_do="Make room on the disk, then go on with `steadyamps resume`.",
            )
