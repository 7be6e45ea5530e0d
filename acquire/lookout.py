"""Shows the guard each reading where it comes in, and trips the stop path at once.

The bench takes readings a few times a second, a batch at a time, and a disk may hold it up. A
limit that is passed does not wait for that: the thread that read the value tells the guard.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TypeVar

from acquire.guard import Guard, Trip
from acquire.stop_path import StopPath, StopReason
from drivers.clock import Clock
from drivers.readings import Reading

T = TypeVar("T")


class Lookout:
    """One guard, for many threads; all its times are those of the clock, not of the run [s]."""

    def __init__(self, guard: Guard, stop: StopPath, clock: Clock) -> None:
        """Readings from before now are left out: they belong to another run."""
        self._guard = guard
        self._stop = stop
        self._clock = clock
        self._one_at_a_time = threading.Lock()
        self._from_s = clock.monotonic_s()
        self._trip: Trip | None = None

    def see(self, reading: Reading) -> None:
        """Look at one reading, in the thread that has it; never raises."""
        if reading.t_s >= self._from_s:
            self._ask(self._guard.see, reading)

    def tick(self) -> None:
        """Let time pass: what fell silent, and a load that is on for too long."""
        self._ask(self._guard.tick, self._clock.monotonic_s())

    def told_to_run(self) -> None:
        """The drive may turn from now on."""
        with self._one_at_a_time:
            self._guard.told_to_run(self._clock.monotonic_s())

    def watch_silence(self) -> None:
        """Silence counts from now on, though no drive was told to run."""
        with self._one_at_a_time:
            self._guard.watch_silence(self._clock.monotonic_s())

    def told_speed(self, shaft_rpm: float) -> None:
        """The set speed was moved."""
        with self._one_at_a_time:
            self._guard.told_speed(self._clock.monotonic_s(), shaft_rpm)

    def load_is_on(self, *, on: bool) -> None:
        """A load with a time limit was closed or opened."""
        with self._one_at_a_time:
            self._guard.load_is_on(self._clock.monotonic_s(), on=on)

    def quiet(self) -> tuple[str, float]:
        """The watched channel without a good reading for longest, and for how long [s]."""
        with self._one_at_a_time:
            return self._guard.quiet(self._clock.monotonic_s())

    def trip_on(self, trip: Trip | None) -> None:
        """Stop the rig for what was seen, here or by another watch; the first counts."""
        if trip is None:
            return
        reason = StopReason("guard", trip.words, pile_too_long=trip.kind == "load")
        if self._stop.trip(reason):
            self._trip = trip

    def trip_to_note(self) -> Trip | None:
        """What the rig was stopped for, for the journal; given once."""
        trip, self._trip = self._trip, None
        return trip

    def _ask(self, look: Callable[[T], Trip | None], at: T) -> None:
        """A guard that fails is no guard: the rig is stopped for that too."""
        try:
            with self._one_at_a_time:
                trip = look(at)
        except Exception as error:  # noqa: BLE001  a port's thread must live on, and the rig stop
            words = f"the watch on limits failed: {type(error).__name__}: {error}"
            self._stop.trip(StopReason("error", words))
            return
        self.trip_on(trip)
