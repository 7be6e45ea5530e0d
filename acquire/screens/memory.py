"""What the shelf knows that matters now: earlier runs of this serial, a run that was interrupted.

Asked in the background, of the shelf's index; a page shows what is known so far.
"""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from acquire.last_stop import last_stop_words
from acquire.record.bench_time import day_here
from acquire.record.claim import being_written
from acquire.record.read_run import read_run
from acquire.record.run_name import utc_of
from acquire.record.samples import SAMPLES_FILE
from acquire.resuming import can_go_on
from acquire.screens.choices import Choices
from acquire.screens.curve_facts import Measured
from acquire.screens.result_facts import measured_of_folder
from acquire.screens.shelf_index import index_of
from acquire.shelf.by_folder import runs_by_folder
from acquire.shelf.entry import RunEntry
from acquire.shelf.errors import ShelfError
from acquire.shelf.same_day import same_day_words
from acquire.shelf.search_keys import last_letters, search_key
from profiles.errors import BenchError

if TYPE_CHECKING:
    from acquire.study.reference_watch import ReferenceWatch

NEWEST = 200
KEPT_IN_MIND = timedelta(days=14)
"""A run that did not end is offered so long (our choice)."""


class Memory:
    """What the shelf has for the choices at hand; it keeps the index up to date."""

    def __init__(self, shelf: Path, choices: Callable[[], Choices]) -> None:
        self.shelf = shelf
        self.newest: tuple[RunEntry, ...] = ()
        """The newest runs, at most `NEWEST` of them."""
        self.read = False
        """True once the shelf has been read."""
        self.catching_up = False
        """True while folders and index are compared."""
        self.caught_up = 0
        """How often they have been."""
        self.earlier: RunEntry | None = None
        self.earlier_points: list[Measured] = []
        self.watch: ReferenceWatch | None = None
        """How the chart of the rig's reference unit stands; None where the rig names none."""
        self.last_stop = ""
        """That the last run on this rig did not stop by itself; empty where it did."""
        self.watch_trouble = ""
        """Why that cannot be told, in a sentence."""
        self._not_ended: tuple[RunEntry, ...] = ()
        """Runs of this bench that can be gone on with, the newest first."""
        self._choices = choices
        self._lock = threading.Lock()
        self._again = False
        self._threads: list[threading.Thread] = []

    def refresh(self) -> None:
        """Compare folders and index again, in the background; one at a time."""
        with self._lock:
            if self.catching_up:
                self._again = True
                return
            self.catching_up, self._again = True, False
        self._start(self._read, "shelf")

    def look_for_earlier(self) -> None:
        """The serial or the rig changed: look for an earlier run of it, in the background."""
        self._start(self._find_earlier, "earlier run")

    def look_at_reference(self) -> None:
        """The rig changed: look how the chart of its reference unit stands, in the background."""
        self._start(self._watch_reference, "reference unit")

    def wait(self, timeout_s: float = 30.0) -> None:
        """Wait for what was begun so far."""
        for thread in list(self._threads):
            thread.join(timeout_s)

    def _start(self, work: Callable[[], None], name: str) -> None:
        thread = threading.Thread(target=work, name=name, daemon=True)
        self._threads = [*(one for one in self._threads if one.is_alive()), thread]
        thread.start()

    # ---- in the background -------------------------------------------------------------------

    def _read(self) -> None:
        going_on = True
        while going_on:
            try:
                self._catch_up()
            finally:
                with self._lock:
                    going_on, self._again = self._again, False
                    self.catching_up = going_on
                    self.caught_up += 1

    def _catch_up(self) -> None:
        # What most likely is to be gone on with is the newest folder; that needs no index.
        self._not_ended = not_ended_among(itertools.islice(runs_by_folder(self.shelf), 1))
        newest = self._newest()
        here = (one for one in newest if lies_on(self.shelf, one))
        not_ended = not_ended_among(here)
        with self._lock:
            self.newest, self.read, self._not_ended = newest, True, not_ended
        self._find_earlier()
        self._watch_reference()

    def _newest(self) -> tuple[RunEntry, ...]:
        try:
            with index_of(self.shelf) as index:
                if index.unread is None:
                    index.shelf.refresh()
                    return index.shelf.page(limit=NEWEST).entries
        except ShelfError:
            pass  # said on the page of past tests
        return tuple(one for one, _ in zip(runs_by_folder(self.shelf), range(NEWEST), strict=False))

    def _find_earlier(self) -> None:
        choices = self._choices()
        order, serial = choices.order(), choices.serial
        found = None
        if order is not None and choices.going_on is None and search_key(serial):
            found = self._earlier_of(serial, simulated=order.simulated)
        points = _points(found)
        with self._lock:
            if serial != self._choices().serial:
                return  # it changed meanwhile: that is being looked for by another thread
            self.earlier = found if points else None
            self.earlier_points = points

    def _watch_reference(self) -> None:
        loaded = self._choices().rig
        watch, trouble = None, ""
        last_stop = "" if loaded is None else last_stop_words(loaded.profile, self.shelf)
        if loaded is not None and loaded.profile.reference is not None:
            from acquire.study.reference_watch import reference_watch

            try:
                watch = reference_watch(loaded.profile, self.shelf)
            except (BenchError, OSError) as error:
                trouble = f"The chart of the reference unit cannot be told: {error}"
        with self._lock:
            if loaded is self._choices().rig:
                self.watch, self.watch_trouble, self.last_stop = watch, trouble, last_stop

    def _earlier_of(self, serial: str, *, simulated: bool) -> RunEntry | None:
        try:
            with index_of(self.shelf) as index:
                if index.unread is None:
                    return index.shelf.last_of(serial, simulated=simulated)
        except ShelfError:
            pass  # said on the page of past tests
        return earlier_among(runs_by_folder(self.shelf), serial, simulated=simulated)

    # ---- in words ----------------------------------------------------------------------------

    @property
    def earlier_words(self) -> str:
        """As in `Earlier run of A-17: 2026-11-20, before, pass; drawn beside this one.`

        Where that was today and at the same stage it says so instead.
        """
        one = self.earlier
        if one is None:
            return ""
        today = same_day_words(one, stage=self._choices().stage, now=datetime.now().astimezone())
        if today:
            return today
        parts = [day_here(one.began_utc), one.stage, one.outcome]
        said = ", ".join(part for part in parts if part)
        return f"Earlier run of {one.serial}: {said}; drawn beside this one."

    @property
    def interrupted_folder(self) -> Path | None:
        """The newest run on this bench's shelf that was interrupted."""
        return self._not_ended[0].path if self._not_ended else None

    @property
    def interrupted_words(self) -> str:
        """As in `The run of A-17 (2026-11-25) did not end; 2 more.`"""
        if not self._not_ended:
            return ""
        one, more = self._not_ended[0], len(self._not_ended) - 1
        others = f"; {more} more" if more else ""
        return f"The run {_named(one)} ({day_here(one.began_utc)}) did not end{others}."


def not_ended_among(runs: Iterable[RunEntry]) -> tuple[RunEntry, ...]:
    """The runs, given newest first, that can be gone on with.

    Not those that another program writes now, nor those whose unit was since tested to the end,
    nor those begun more than `KEPT_IN_MIND` before the newest run: they stay on the shelf.
    """
    out, tested, newest = [], set[tuple[str, bool]](), None
    for one in runs:
        newest = newest or one
        if _long_before(newest, one):
            break
        key = (one.serial_key or search_key(one.unit), one.simulated)
        if one.state == "complete":
            tested.add(key)
        elif (not key[0] or key not in tested) and _goes_on(one):
            out.append(one)
    return tuple(out)


def _goes_on(one: RunEntry) -> bool:
    if one.state != "stopped" and being_written(one.path / SAMPLES_FILE):
        return False
    try:
        return can_go_on(read_run(one.path))
    except BenchError:
        return False


def _named(one: RunEntry) -> str:
    """`of A-17`; by the four letters of its folder where it has no other name: `kqzd`."""
    return f"of {one.title[:20]}" if one.title != one.folder else last_letters(one.run_id)


def _long_before(newest: RunEntry, one: RunEntry) -> bool:
    try:
        return utc_of(newest.began_utc) - utc_of(one.began_utc) > KEPT_IN_MIND
    except (ValueError, OverflowError):
        return False


def lies_on(shelf: Path, one: RunEntry) -> bool:
    """True for a run that lies on this very shelf; an index may be of several benches."""
    try:
        return one.path.samefile(shelf / one.folder)
    except OSError:
        return False


def earlier_among(runs: Iterable[RunEntry], serial: str, *, simulated: bool) -> RunEntry | None:
    """The first whole run of the same serial; simulated and real ones are never mixed."""
    key = search_key(serial)
    for one in runs:
        if one.serial_key == key and one.state == "complete" and one.simulated == simulated:
            return one
    return None


def _points(one: RunEntry | None) -> list[Measured]:
    if one is None:
        return []
    try:
        return measured_of_folder(one.path)
    except BenchError:
        return []
