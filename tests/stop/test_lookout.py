"""The guard sees a reading in the thread that read it, whatever holds the bench up."""

from __future__ import annotations

import threading
from pathlib import Path

from acquire.guard import Guard, GuardPlan
from acquire.lookout import Lookout
from acquire.stop_path import RigAtStop, StopPath, StopReason
from drivers.clock import HandClock
from drivers.reading_queue import ReadingQueue
from drivers.readings import Reading
from tests.stop.test_bench import WAIT_S, bench_over

PLAN = GuardPlan(highest={"amps": 50.0}, watched=frozenset({"amps"}), silent_s=3.0)


def stop_path(clock: HandClock) -> StopPath:
    rig = RigAtStop(
        drive=None, load=None, field=None, shaft_rpm=lambda: 0.0,
        shed_below_rpm=600.0, coast_s=1.0, clock=clock,
    )  # fmt: skip
    return StopPath(rig)


def over(clock: HandClock, guard: Guard | None = None) -> tuple[Lookout, StopPath, ReadingQueue]:
    stop, queue = stop_path(clock), ReadingQueue()
    lookout = Lookout(guard or Guard(PLAN), stop, clock)
    queue.watched_by(lookout.see)
    return lookout, stop, queue


def test_a_limit_that_is_passed_trips_before_anybody_takes_the_reading() -> None:
    lookout, stop, queue = over(HandClock())
    queue.put(Reading("amps", 0.0, 49.9))
    assert not stop.tripped
    queue.put(Reading("amps", 0.1, 50.1))
    assert stop.tripped
    trip = lookout.trip_to_note()
    assert trip is not None
    assert (trip.kind, trip.channel, trip.value) == ("limit", "amps", 50.1)
    assert lookout.trip_to_note() is None, "the journal notes it once"
    assert len(queue.take()) == 2, "it is recorded like any other"


def test_readings_of_an_earlier_run_trip_nothing() -> None:
    clock = HandClock(100.0)
    _, stop, queue = over(clock)
    queue.put(Reading("amps", 99.9, 500.0))
    assert not stop.tripped
    queue.put(Reading("amps", 100.0, 500.0))
    assert stop.tripped


def test_a_load_that_is_on_for_too_long_stops_the_rig_with_the_pile_to_be_opened_first() -> None:
    clock = HandClock()
    guard = Guard(GuardPlan(highest={}, watched=frozenset(), load_on_s_max=15.0))
    lookout, stop, _ = over(clock, guard)
    lookout.load_is_on(on=True)
    clock.advance(15.5)
    lookout.tick()
    assert stop.report is not None
    assert stop.report.reason.pile_too_long
    assert "OPEN THE PILE" in stop.report.reason.words


def test_what_falls_silent_trips_as_time_passes() -> None:
    clock = HandClock()
    lookout, stop, queue = over(clock)
    lookout.told_to_run()
    queue.put(Reading("amps", 0.0, 1.0))
    clock.advance(2.9)
    lookout.tick()
    assert not stop.tripped
    clock.advance(0.2)
    lookout.tick()
    assert stop.report is not None
    assert stop.report.reason.kind == "guard"


def test_a_stop_that_came_first_leaves_no_trip_to_note() -> None:
    lookout, stop, queue = over(HandClock())
    stop.trip(StopReason("operator", "space bar"))
    queue.put(Reading("amps", 0.1, 99.0))
    assert lookout.trip_to_note() is None
    assert stop.report is not None
    assert stop.report.reason.kind == "operator"


def test_a_guard_that_fails_stops_the_rig_and_spares_the_thread_of_the_port() -> None:
    class Broken(Guard):
        def see(self, reading: Reading) -> None:
            raise ZeroDivisionError("a bug")

    _, stop, queue = over(HandClock(), Broken(PLAN))
    queue.put(Reading("amps", 0.1, 1.0))
    assert stop.report is not None
    assert stop.report.reason.kind == "error"
    assert "the watch on limits failed: ZeroDivisionError: a bug" in stop.report.reason.words


def test_the_drive_is_stopped_while_the_bench_hangs(tmp_path: Path) -> None:
    """As a disk that does not answer holds it: readings come in and nobody takes them."""
    hangs, goes_on = threading.Event(), threading.Event()

    def look() -> None:
        if running.wires.rig.rpm > 1000.0 and not goes_on.is_set():
            hangs.set()
            goes_on.wait(WAIT_S)

    running = bench_over(tmp_path, limits={"amps": 50.0}, at_each_look=lambda: look())
    running.bench.start()
    assert hangs.wait(WAIT_S)
    assert not running.stop.tripped
    running.wires.see(Reading("amps", running.wires.clock.monotonic_s(), 60.0))
    assert running.stop.wait(WAIT_S) is not None, "the order ran to its end without the bench"
    assert "halt" in running.wires.said
    goes_on.set()
    assert running.over().kind == "guard"
