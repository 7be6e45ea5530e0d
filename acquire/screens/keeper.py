"""Keeps the rig and the run for the screens, in a thread of its own.

The screens only look and ask. Whatever becomes of them, a run that has begun goes on to its end
here, or is brought to rest; it is judged, sealed and closed without any screen.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from acquire.asked_checks import asked
from acquire.bench import Bench
from acquire.ending import NothingLeft, RunEnd
from acquire.errors import RunFileError
from acquire.judge.checks import Answer
from acquire.live_run import LiveRun
from acquire.opened_rig import OpenedRig
from acquire.readiness import LISTEN_S, Item, listen, readiness
from acquire.resuming import Interrupted
from acquire.run_order import RunOrder
from acquire.stop_path import StopReason, StopReport
from acquire.stop_words import left_to_do, rest_sentence
from drivers.clock import bench_day
from drivers.readings import Reading
from profiles.catalogue import Loaded
from profiles.errors import BenchError
from profiles.method import Check
from profiles.rig import Rig

if TYPE_CHECKING:
    from acquire.record.keys import SigningKey

State = Literal["closed", "opening", "open", "beginning", "running", "asking", "ending"]
IDLE_S = 0.1
KEPT_READINGS = 400
NO_ANSWERS: Mapping[str, Answer] = {}


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a run is to be."""

    order: RunOrder
    accepted: Mapping[str, object]
    going_on: Interrupted | None = None
    answers: Mapping[str, Answer] = field(default_factory=dict)
    """Checks answered before the sweep, by name."""


class Keeper:
    """Opens rigs, runs tests, ends them in order. Use as a context."""

    def __init__(self, shelf: Path, key: Callable[[], SigningKey | None]) -> None:
        self.shelf = shelf
        self._key = key
        self.state: State = "closed"
        self.trouble: BaseException | None = None
        """Why the rig is not open, or the run did not begin or end as it should."""
        self.rig: Rig | None = None
        self.items: tuple[Item, ...] = ()
        """Readiness, line by line, once the rig has been listened to."""
        self.run: LiveRun | None = None
        self.end: RunEnd | None = None
        """How the last run ended."""
        self.last: Wanted | None = None
        self.ends: list[RunEnd] = []
        self.stop_trouble: tuple[str, ...] = ()
        """What did not work while the rig was brought to rest."""
        self.rest_words = ""
        """Whether the rig is at rest, or what to keep clear of."""
        self._stop_report: StopReport | None = None
        self.to_ask: tuple[Check, ...] = ()
        """The checks that are asked now that the rig is at rest (state `asking`)."""
        self._asked = threading.Event()
        self._answers: dict[str, Answer] = {}
        self._opened: OpenedRig | None = None
        self._heard: dict[str, deque[Reading]] = {}
        self._tasks: queue.SimpleQueue[Callable[[], None] | None] = queue.SimpleQueue()
        self._stop_wanted: StopReason | None = None
        self._closing = False
        self._lock = threading.Lock()
        self._thread = threading.Thread(target=self._work, name="keeper", daemon=True)
        self._thread.start()

    def __enter__(self) -> Keeper:
        return self

    def __exit__(self, *_ignored: object) -> None:
        self.close()

    # ---- from any thread -------------------------------------------------------------------

    def open_rig(self, loaded: Loaded[Rig], *, look: bool = True) -> None:
        """Open a rig to look at it; another one that is open is closed first.

        `look`: exercise its stop path at standstill and report readiness.
        """
        if self.busy or self.state == "asking":
            return
        self.state, self.trouble, self.items = "opening", None, ()
        self._tasks.put(lambda: self._open(loaded, look))

    def begin(self, wanted: Wanted) -> None:
        """Begin a run; returns at once."""
        with self._lock:
            if self.busy or self.state == "asking":
                return
            self.state, self.trouble, self.end = "beginning", None, None
            self._stop_wanted = None
            self.stop_trouble, self.rest_words, self._stop_report = (), "", None
        self.last = wanted
        self._tasks.put(lambda: self._run(wanted))

    def stop(self, reason: StopReason) -> bool:
        """Bring the rig to rest, first of all; True when there was something to stop."""
        with self._lock:
            if not self.busy:
                return False
            self._stop_wanted = self._stop_wanted or reason
        run = self.run
        if run is not None:
            run.stop(reason)
        return True

    def halt_idle_drive(self) -> bool:
        """No run is on: tell the drive to stop all the same. True where there is one."""
        opened = self._opened
        drive = opened.wiring.drive if opened is not None and opened.wiring is not None else None
        if drive is None:
            return False
        drive.begin_halt()
        return True

    @property
    def stopped_early(self) -> str:
        """What stopped the run while its rig was being opened, so that none began; else empty."""
        wanted, begun = self._stop_wanted, self.run is not None or self.end is not None
        return wanted.words if wanted is not None and not begun else ""

    @property
    def busy(self) -> bool:
        """True while the rig may turn or the record is being sealed."""
        return self.state in ("beginning", "running", "ending")

    @property
    def report(self) -> StopReport | None:
        """How the stop of the run that is on goes; None before there is one."""
        run = self.run
        return run.stop_path.report if run is not None and run.stop_path is not None else None

    def left_to_do(self, *, stopped: bool) -> tuple[str, str]:
        """What hands must do still after the last run, in large words and in a sentence."""
        report = self._stop_report
        return left_to_do(report, stopped=stopped) if report is not None else ("", "")

    @property
    def stopping(self) -> bool:
        """True from the stop of a run on, whoever asked for it, until it is over."""
        return self.busy and (self.report is not None or self._stop_wanted is not None)

    def answered(self, answers: Mapping[str, Answer]) -> None:
        """The checks after the sweep were asked; those without an answer were not done."""
        if self.state == "asking":
            self._answers, self.state = dict(answers), "ending"
            self._asked.set()

    @property
    def bench(self) -> Bench | None:
        """The bench of the run that is on."""
        return self.run.bench if self.run is not None else None

    @property
    def opened(self) -> OpenedRig | None:
        """The rig that is open, on its own or for a run."""
        return self._opened

    def latest(self) -> dict[str, Reading]:
        """The newest reading of each channel of the open rig."""
        opened = self._opened
        if opened is None or opened.wiring is None:
            return {}
        found = {n: opened.wiring.readings.latest(n) for n in [*opened.rig.channels, "drive_rpm"]}
        return {name: reading for name, reading in found.items() if reading is not None}

    def now_s(self) -> float:
        """The rig's own time [s]."""
        return self._opened.clock.monotonic_s() if self._opened is not None else 0.0

    def recent(self, channel: str) -> list[Reading]:
        """The last readings of a channel, while no run is on."""
        return list(self._heard.get(channel, ()))

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait until everything asked for so far is done."""
        done = threading.Event()
        self._tasks.put(done.set)
        return done.wait(timeout_s)

    def close(self) -> None:
        """Stop what runs, end it in order, close the rig."""
        self.stop(StopReason("operator", "the program was left."))
        self._closing = True
        self._asked.set()
        self._tasks.put(self._close)
        self._tasks.put(None)
        self._thread.join()

    # ---- the keeper's thread ---------------------------------------------------------------

    def _work(self) -> None:
        while True:
            try:
                task = self._tasks.get(timeout=IDLE_S)
            except queue.Empty:
                self._listen_idle()
                continue
            if task is None:
                return
            try:
                task()
            except Exception as error:  # noqa: BLE001 - told on the screen; this thread must live
                self.trouble = error
                self.state = "closed" if self._opened is None else "open"

    def _open(self, loaded: Loaded[Rig], look: bool) -> None:
        self._close()
        self.state = "opening"
        self.rig = loaded.profile
        opened = OpenedRig(loaded)
        try:
            opened.open()
        except BaseException:
            opened.close()
            self.state = "closed"
            raise
        self._opened, self.rig, self.state = opened, opened.rig, "open"
        if look:
            self._look_at(opened)

    def _look_at(self, opened: OpenedRig) -> None:
        wiring = opened.wiring
        if wiring is None:
            return
        heard = listen(wiring, opened.clock, LISTEN_S)
        for readings in heard.values():
            self._keep(readings)
        today = bench_day(opened.clock)
        self.items = tuple(readiness(opened.rig, wiring, heard, today=today))

    def _listen_idle(self) -> None:
        """Take what the ports bring, so that nothing old is left for a run to begin with."""
        opened = self._opened
        if self.state == "open" and opened is not None and opened.wiring is not None:
            self._keep(opened.wiring.readings.take())
            opened.wiring.take_events()

    def _keep(self, readings: list[Reading]) -> None:
        for reading in readings:
            kept = self._heard.setdefault(reading.channel, deque(maxlen=KEPT_READINGS))
            kept.append(reading)

    def _close(self) -> None:
        opened, self._opened = self._opened, None
        self._heard.clear()
        if self.state != "beginning":
            self.state = "closed"
        if opened is not None:
            opened.close()

    def _run(self, wanted: Wanted) -> None:
        """One run, from its first reading to its seal; the rig is closed after it."""
        if wanted.going_on is not None and wanted.going_on.nothing_left(attended=True):
            self._finish(wanted, wanted.going_on)
            return
        opened = self._opened_for(wanted)
        try:
            with LiveRun(
                wanted.order,
                shelf=self.shelf,
                key=self._key(),
                going_on=wanted.going_on,
                opened=opened,
            ) as run:
                wiring = run.open()
                wiring.readings.take()
                self._opened = opened
                self.run = run
                if self._stop_wanted is not None:
                    return
                bench = run.begin(wanted.accepted, attended=True)
                self.state = "running"
                if self._stop_wanted is not None:
                    run.stop(self._stop_wanted)
                _keep(run, wanted.answers)
                bench.wait()
                self._note_rest()
                self._ask(run)
                self._ended(run.end)
        finally:
            self.run, self._opened = None, None
            self._heard.clear()
            self.state = "closed"

    def _note_rest(self) -> None:
        """How the rig came to rest, before anything of the result can fail."""
        report = self.report
        if report is not None:
            self.rest_words, self._stop_report = rest_sentence(report), report
            self.stop_trouble = tuple(event.words for event in report.events if not event.ok)

    def _finish(self, wanted: Wanted, going_on: Interrupted) -> None:
        """Every speed has been measured: judge and seal, no port is opened for it."""
        self.state = "ending"
        try:
            with NothingLeft(going_on, key=self._key()) as run:
                _keep(run, wanted.answers)
                self._ask(run, going_on.answers)
                self._ended(run.end)
        finally:
            self.state = "closed" if self._opened is None else "open"

    def _ended(self, end: Callable[[], RunEnd]) -> None:
        self.state = "ending"
        self.end = end()
        self.ends.append(self.end)

    def _ask(self, run: LiveRun | NothingLeft, answered: Mapping[str, Answer] = NO_ANSWERS) -> None:
        """The rig is at rest: the checks after the sweep, while there is a screen to ask on."""
        after = asked(run.order.method.profile, "after")
        checks = tuple(check for check in after if check.name not in answered)
        if not (run.complete and checks) or self._closing:
            return
        self._asked.clear()
        self._answers = {}
        self.to_ask, self.state = checks, "asking"
        if not self._closing:
            self._asked.wait()
        self.to_ask = ()
        _keep(run, self._answers)

    def _opened_for(self, wanted: Wanted) -> OpenedRig:
        """The rig as it is open, or a new one where another is open."""
        opened = self._opened
        if opened is not None and opened.loaded is wanted.order.rig:
            return opened
        self._close()
        return OpenedRig(wanted.order.rig)


def _keep(run: LiveRun | NothingLeft, answers: Mapping[str, Answer]) -> None:
    """Answers into the record; what the disk refuses waits there, and is told at the end."""
    for name, answer in answers.items():
        with contextlib.suppress(RunFileError):
            run.answer(name, answer)


def reasons_of(error: BaseException | None) -> tuple[str, ...]:
    """Each thing that is wrong, on its own."""
    if error is None:
        return ()
    several = getattr(error, "failures", ()) or (error,)
    return tuple(shown_trouble(one) for one in several)


def shown_trouble(error: BaseException | None) -> str:
    """What went wrong, as a sentence for the operator."""
    if error is None:
        return ""
    with contextlib.suppress(Exception):
        if isinstance(error, BenchError):
            return str(error)
    return f"{type(error).__name__}: {error}"
