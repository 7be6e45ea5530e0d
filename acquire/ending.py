"""How a run ends: judged, sealed, told; also of one that goes on with nothing left to measure."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from acquire.asked_checks import CHECK_ANSWERED, answers_in
from acquire.errors import OrderError, RunFileError
from acquire.findings.seen import seen_in
from acquire.judge.checks import Answer, CheckResult, evaluate
from acquire.judging import Judgement, WarmUpRan, judge_run, warm_up_in
from acquire.points import PointMaker
from acquire.record.journal import JOURNAL_FILE, JournalEntry, read_journal
from acquire.record.run_folder import RunFolder
from acquire.resuming import Interrupted
from acquire.snapshots import snapshots_of
from acquire.stop_path import StopReason
from drivers.clock import RealClock
from profiles.errors import BenchError
from profiles.method import Check, Method

if TYPE_CHECKING:
    from acquire.record.keys import SigningKey

SERVER_WAIT_S = 2.0
"""At the end of a run, for a server to note it; what it misses it learns when next looked at."""


@dataclass(frozen=True, slots=True)
class RunEnd:
    """How a run ended."""

    folder: Path
    judgement: Judgement
    stopped: bool
    reason: StopReason
    under_way: bool
    """The drive was told to run, or without a drive the first step had begun."""
    not_finished: RunFileError | None = None
    """Why the record could not be finished; the run is then as an interrupted one."""
    goes_on: bool = True
    """False where rig and unit do not go together, so that `resume` would be refused."""


def end_record(
    record: RunFolder,
    points: PointMaker,
    *,
    reason: StopReason,
    warm_up: WarmUpRan | None = None,
    under_way: bool,
) -> RunEnd:
    """Judge what was measured and seal the record; where the disk refuses, that is told.

    `warm_up`: how it went; else the journal says it.
    """
    complete = reason.kind == "complete"
    not_finished: RunFileError | None = None
    journal: tuple[JournalEntry, ...] = ()
    try:
        journal = journal_of(record)
    except RunFileError as error:
        not_finished = error
    seen = seen_in(journal)
    judgement = judge_run(
        snapshots_of(record.header),
        points=points.with_own_slopes(),
        warm_up=warm_up or warm_up_in(journal),
        why_stopped=None if complete else reason.words,
        answers=answers_in(journal),
        seen=seen,
    )
    try:
        if not_finished is None:
            record.finish(
                "complete" if complete else "stopped",
                judged=judgement.judged,
                verdict=judgement.document,
            )
            tell_server(record.folder, wait_s=SERVER_WAIT_S)
    except RunFileError as error:
        not_finished = error
    return RunEnd(
        record.folder,
        judgement,
        not complete,
        reason,
        under_way,
        not_finished=not_finished,
        goes_on=not seen.refused_for_good,
    )


def journal_of(record: RunFolder) -> tuple[JournalEntry, ...]:
    """What was noted so far: from before a resume too.

    Raises:
        RunFileError: If it cannot be read.
    """
    path = record.folder / JOURNAL_FILE
    return tuple(read_journal(path, record.header.run_id).entries)


def tell_server(folder: Path, wait_s: float = 0.0) -> None:
    """Where several benches share an index on a server, it learns of the run at once.

    In the background, and never in the way of the run; an index on this computer reads the
    folders when somebody looks.
    """
    from acquire.shelf.where import server_of

    if server_of(folder.parent) is not None:
        from acquire.shelf.note_run import note_run

        note_run(folder).wait(wait_s)


def keep_answer(record: RunFolder, method: Method, name: str, answer: Answer) -> CheckResult:
    """Keep the answer to a check in the record.

    Raises:
        OrderError: If the method has no such check.
        BadCheckAnswer: If the answer does not fit it.
    """
    result = evaluate(check_of(method, name), answer)
    record.append(CHECK_ANSWERED, {"check": name, "answer": answer}, sync=True)
    return result


def check_of(method: Method, name: str) -> Check:
    """A check of a method by its name.

    Raises:
        OrderError: If there is none of that name.
    """
    checks = {check.name: check for check in method.check}
    if name in checks:
        return checks[name]
    there = ", ".join(f"'{known}'" for known in checks) or "none at all"
    raise OrderError(f"The method has no check '{name}'.", what_to_do=f"Its checks: {there}.")


class NothingLeft:
    """A run that goes on with every speed measured: no port is opened, nothing turns.

    Use as a context: leaving it lets go of the record, finished or not.
    """

    complete = True

    def __init__(self, going_on: Interrupted, *, key: SigningKey | None = None) -> None:
        """Open the record.

        Raises:
            RunFileError: If it is complete, being written elsewhere, or damaged.
        """
        from acquire.record.reopen import reopen

        self.order = going_on.order
        self._points = PointMaker(self.order.plan(), self.order.rig.profile)
        self._points.points = list(going_on.points)
        self._record = reopen(going_on.folder, RealClock(), key=key)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        with contextlib.suppress(BenchError):  # it can be gone on with all the same
            self._record.close()

    def answer(self, name: str, answer: Answer) -> CheckResult:
        """Keep the answer to a check that is asked at standstill.

        Raises:
            OrderError: If the method has no such check.
            BadCheckAnswer: If the answer does not fit it.
        """
        return keep_answer(self._record, self.order.method.profile, name, answer)

    def end(self) -> RunEnd:
        """Judge and seal."""
        reason = StopReason("complete", "all steps are over")
        return end_record(self._record, self._points, reason=reason, under_way=False)
