"""The order in which a rig is brought to rest, whatever fails on the way."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field

import pytest

from acquire.stop_path import (
    DOES_NOT_STOP,
    EMERGENCY,
    OPEN_PILE,
    TO_IDLE,
    RigAtStop,
    StopEvent,
    StopPath,
    StopReason,
)
from drivers.clock import HandClock
from profiles.errors import BenchError

WAIT_S = 20.0


class SteppingClock(HandClock):
    """Moves 0.5 s at each look, so that waiting for the shaft takes no time."""

    def monotonic_s(self) -> float:
        self.advance(0.5)
        return super().monotonic_s()


@dataclass
class Done:
    """A command that has ended already."""

    error: BenchError | None = None

    def ended_within(self, timeout_s: float) -> bool:
        return timeout_s > 0

    def wait(self, timeout_s: float) -> None:
        assert timeout_s > 0
        if self.error is not None:
            raise self.error


@dataclass
class Bench:
    """A rig that writes down what it is told."""

    said: list[str] = field(default_factory=list)
    shaft_rpm: float | None = 3000.0
    falls_by: float = 500.0
    drive_fails: int = 0
    field_fails: bool = False
    speed_fails: bool = False

    def begin_halt(self, deadline_s: float) -> Done:
        assert deadline_s > 0
        if self.drive_fails:
            self.drive_fails -= 1
            self.said.append("drive does not answer")
            return Done(BenchError("The drive at tcp://127.0.0.1:1 did not answer."))
        self.said.append("drive off")
        return Done()

    def speed(self) -> float | None:
        if self.speed_fails:
            raise ZeroDivisionError("a bug in the reading of the speed")
        if self.shaft_rpm is not None and "drive off" in self.said:
            self.shaft_rpm = max(self.shaft_rpm - self.falls_by, 0.0)
        return self.shaft_rpm

    def load_off(self) -> Done:
        self.said.append(f"load off at {self.shaft_rpm}")
        return Done()

    def field_off(self) -> Done:
        self.said.append("field off")
        if self.field_fails:
            raise ZeroDivisionError("a bug in the field driver")
        return Done()


@dataclass
class Switch:
    switch_off: Callable[[], Done]

    def begin_off(self, deadline_s: float) -> Done:
        assert deadline_s > 0
        return self.switch_off()


def stop_path(
    bench: Bench, *, coast_s: float = 20.0, load: bool = True, note: object = None
) -> StopPath:
    rig = RigAtStop(
        drive=bench,
        load=Switch(bench.load_off) if load else None,
        field=Switch(bench.field_off),
        shaft_rpm=bench.speed,
        shed_below_rpm=600.0,
        coast_s=coast_s,
        clock=SteppingClock(),
    )
    if callable(note):
        return StopPath(rig, note=note)
    return StopPath(rig)


def stopped(bench: Bench, **how: object) -> StopPath:
    path = stop_path(bench, **how)  # type: ignore[arg-type]
    path.trip(StopReason("operator", "the operator pressed stop"))
    assert path.wait(WAIT_S) is not None
    return path


def test_field_goes_off_first_then_the_drive_and_the_load_only_when_the_shaft_is_slow() -> None:
    bench = Bench()
    path = stopped(bench)
    assert bench.said == ["field off", "drive off", "load off at 500.0"]
    report = path.report
    assert report is not None
    assert report.drive_off
    assert [event.words for event in report.events[-3:]] == [
        "shaft below 600 rpm", "load shed", "the shaft stands still",
    ]  # fmt: skip
    assert report.stands
    assert report.hands == ""
    assert all(event.ok for event in report.events)


def test_load_stays_connected_for_the_coasting_time_when_the_speed_is_not_known() -> None:
    bench = Bench(shaft_rpm=None)
    path = stopped(bench, coast_s=7.0)
    assert path.report is not None
    waited = [event for event in path.report.events if "speed not known" in event.words]
    assert len(waited) == 1
    assert waited[0].t_s - path.report.tripped_s >= 7.0
    assert bench.said[-1] == "load off at None"


def test_coasting_time_is_not_waited_for_without_a_load_once_the_drive_is_off() -> None:
    bench = Bench(shaft_rpm=None)
    path = stopped(bench, coast_s=1e6, load=False)
    assert path.report is not None
    assert [event.words for event in path.report.events] == ["drive off, speed 0", "field off"]


@pytest.mark.parametrize(
    ("speeds", "shed_at"),
    [([6000.0, 5000.0, 2900.0, 2900.0], 2900.0), ([6000.0] * 200, 6000.0), ([None] * 200, None)],
)
def test_with_a_hand_on_the_throttle_the_load_waits_for_idle_but_not_for_ever(
    speeds: list[float | None], shed_at: float | None
) -> None:
    bench = Bench()
    left = list(speeds)

    def speed() -> float | None:
        bench.shaft_rpm = left.pop(0) if len(left) > 1 else left[0]
        return bench.shaft_rpm

    clock = SteppingClock()
    rig = RigAtStop(
        drive=None, load=Switch(bench.load_off), field=None, shaft_rpm=speed,
        shed_below_rpm=600.0, coast_s=15.0, clock=clock,
    )  # fmt: skip
    path = StopPath(rig)
    path.trip(StopReason("operator", "the space bar was pressed."))
    report = path.wait(WAIT_S)
    assert report is not None
    assert bench.said == [f"load off at {shed_at}"]
    assert any(event.words.startswith("BRING THE ENGINE TO IDLE") for event in report.events)
    assert clock.monotonic_s() < 40.0


def test_a_drive_that_does_not_answer_is_told_again() -> None:
    bench = Bench(drive_fails=2)
    path = stopped(bench)
    assert bench.said[1:4] == ["drive does not answer", "drive does not answer", "drive off"]
    assert path.report is not None
    assert path.report.drive_off


def test_a_drive_that_never_stops_ends_in_the_call_for_the_emergency_stop() -> None:
    bench = Bench(drive_fails=99, falls_by=0.0)
    path = stopped(bench, coast_s=3.0)
    report = path.report
    assert report is not None
    assert report.drive_off is False
    assert not any(event.words.startswith("shaft below") for event in report.events)
    assert any("PRESS THE EMERGENCY STOP" in event.words for event in report.events)
    assert report.hands == EMERGENCY
    assert not report.stands
    assert report.last_rpm == 3000.0
    assert "load off at 3000.0" not in bench.said, "no load is thrown off a shaft that turns"
    assert report.events[-1].words == (
        "after 43 s the shaft still turns: the load stays on until you switch it off"
    )


def test_the_emergency_is_called_while_the_shaft_turns_and_taken_back_once_it_is_slow() -> None:
    bench = Bench(falls_by=0.0)
    path = stop_path(bench)
    clock = path._rig.clock
    called: list[str] = []
    speed = bench.speed

    def pressed() -> float | None:
        report = path.report
        if report is not None and report.hands and not called:
            called.append(report.hands)
            bench.falls_by = 400.0
        return speed()

    object.__setattr__(path._rig, "shaft_rpm", pressed)
    path.trip(StopReason("operator", "the space bar was pressed."))
    report = path.wait(WAIT_S)
    assert report is not None
    assert called == [EMERGENCY]
    words = [event.words for event in report.events if not event.ok]
    assert words == ["THE SHAFT DOES NOT SLOW DOWN (3000 rpm): PRESS THE EMERGENCY STOP"]
    assert [event.words for event in report.events if "drive" in event.words] == [
        "drive off, speed 0", "drive told to stop again",
    ]  # fmt: skip
    assert report.hands == ""
    assert bench.said[-1] == "load off at 200.0"
    assert clock.monotonic_s() < 60.0


def test_a_shaft_that_creeps_down_is_called_out_after_its_coasting_time_and_keeps_its_load() -> (
    None
):
    bench = Bench(shaft_rpm=3000.0, falls_by=110.0)
    path = stopped(bench, coast_s=10.0)
    report = path.report
    assert report is not None
    (called,) = [event for event in report.events if "DOES NOT SLOW DOWN" in event.words]
    assert called.t_s - report.tripped_s >= 10.0
    assert bench.said[-1].startswith("load off at 5"), "once it is below 600 rpm"


def test_a_stop_thread_that_was_held_up_for_minutes_looks_once_more_before_it_gives_up() -> None:
    """The shaft came to rest meanwhile: the load is shed, nobody is called."""
    bench = Bench()
    clock = SteppingClock()
    looks = 0

    def held_up_after_the_first_look() -> float:
        nonlocal looks
        looks += 1
        if looks == 1:
            clock.advance(300.0)
            return 3000.0
        return 20.0

    rig = RigAtStop(
        drive=bench, load=Switch(bench.load_off), field=None,
        shaft_rpm=held_up_after_the_first_look, shed_below_rpm=600.0, coast_s=20.0, clock=clock,
    )  # fmt: skip
    clock_at_trip = clock.monotonic_s()
    path = StopPath(rig)
    path.trip(StopReason("operator", "the space bar was pressed."))
    report = path.wait(WAIT_S)
    assert report is not None
    assert clock.monotonic_s() - clock_at_trip > 300.0
    assert bench.said[-1].startswith("load off")
    assert all(event.ok for event in report.events)


def test_a_shaft_last_seen_turning_is_not_called_still() -> None:
    """Some sensors see nothing below some hundred rpm."""
    bench = Bench()
    speed = bench.speed

    def blind_below_300() -> float | None:
        rpm = speed()
        return rpm if rpm is None or rpm >= 300.0 else None

    path = stop_path(bench)
    object.__setattr__(path._rig, "shaft_rpm", blind_below_300)
    path.trip(StopReason("operator", "the space bar was pressed."))
    report = path.wait(WAIT_S)
    assert report is not None
    assert not report.stands
    assert report.last_rpm == 500.0


def test_an_output_of_a_drive_that_reads_nothing_is_no_shaft_that_stands() -> None:
    bench = Bench()
    path = stop_path(bench)
    object.__setattr__(path._rig, "sees_standstill", False)
    path.trip(StopReason("operator", "the space bar was pressed."))
    report = path.wait(WAIT_S)
    assert report is not None
    assert not report.stands


@pytest.mark.parametrize("opened_after", [0, 8, 10**6])
def test_hands_bring_the_engine_to_idle_and_open_the_pile_and_are_waited_for(
    opened_after: int,
) -> None:
    """However long they take, the order ends."""
    asked: list[str] = []
    looks = 0
    clock = SteppingClock()

    def pile_closed() -> bool:
        nonlocal looks
        report = path.report
        if report is not None and report.hands and report.hands not in asked:
            asked.append(report.hands)
        looks += report is not None and report.hands == OPEN_PILE
        return looks <= opened_after

    rig = RigAtStop(
        drive=None, load=None, field=None, shaft_rpm=lambda: 2000.0, shed_below_rpm=600.0,
        coast_s=15.0, clock=clock, pile_closed=pile_closed,
    )  # fmt: skip
    path = StopPath(rig)
    path.trip(StopReason("operator", "the space bar was pressed."))
    report = path.wait(WAIT_S)
    assert report is not None
    assert asked == [TO_IDLE, OPEN_PILE]
    seen = any(event.words == "the pile is open" for event in report.events)
    assert seen == (opened_after < 100)
    assert report.hands == (TO_IDLE if seen else OPEN_PILE)
    assert clock.monotonic_s() < 40.0


@pytest.mark.parametrize("driven", [True, False])
def test_a_pile_closed_for_too_long_is_opened_first_while_the_shaft_still_turns(
    driven: bool,
) -> None:
    bench = Bench()
    clock = SteppingClock()
    asked_at: list[float | None] = []

    def pile_closed() -> bool:
        if path.report is not None and path.report.hands == OPEN_PILE:
            asked_at.append(bench.shaft_rpm)
        return len(asked_at) < 3

    rig = RigAtStop(
        drive=bench if driven else None, load=None, field=None, shaft_rpm=bench.speed,
        shed_below_rpm=600.0, coast_s=15.0, clock=clock, pile_closed=pile_closed,
    )  # fmt: skip
    path = StopPath(rig)
    path.trip(StopReason("guard", "The load has been on for 16 s.", pile_too_long=True))
    report = path.wait(WAIT_S)
    assert report is not None
    assert (asked_at[0] or 0.0) > 600.0
    words = [event.words for event in report.events]
    assert words.count(OPEN_PILE) == 1
    if driven:
        assert words.index(OPEN_PILE) < words.index("shaft below 600 rpm")
    assert report.hands == ""


def test_the_emergency_goes_before_the_pile() -> None:
    bench = Bench(falls_by=0.0)
    wanted: list[str] = []

    def pile_closed() -> bool:
        report = path.report
        if report is not None and report.hands not in wanted[-1:]:
            wanted.append(report.hands)
        return True

    rig = RigAtStop(
        drive=bench, load=None, field=None, shaft_rpm=bench.speed, shed_below_rpm=600.0,
        coast_s=5.0, clock=SteppingClock(), pile_closed=pile_closed,
    )  # fmt: skip
    path = StopPath(rig)
    path.trip(StopReason("operator", "the space bar was pressed."))
    report = path.wait(WAIT_S)
    assert report is not None
    assert wanted == [EMERGENCY]
    assert report.hands == EMERGENCY
    assert any(event.words == OPEN_PILE for event in report.events)


def test_a_pile_that_is_opened_at_once_is_not_asked_for() -> None:
    closed = [True, True, False]
    rig = RigAtStop(
        drive=None, load=None, field=None, shaft_rpm=lambda: 2000.0, shed_below_rpm=600.0,
        coast_s=15.0, clock=SteppingClock(),
        pile_closed=lambda: closed.pop(0) if len(closed) > 1 else closed[0],
    )  # fmt: skip
    path = StopPath(rig)
    path.trip(StopReason("operator", "the space bar was pressed."))
    report = path.wait(WAIT_S)
    assert report is not None
    assert not any(event.words == OPEN_PILE for event in report.events)


def test_a_bug_in_one_driver_does_not_end_the_order() -> None:
    bench = Bench(field_fails=True)
    path = stopped(bench)
    assert bench.said == ["field off", "drive off", "load off at 500.0"]
    assert path.report is not None
    assert not path.report.events[0].ok


def test_a_bug_in_the_reading_of_the_speed_leaves_the_load_no_longer_than_the_coasting_time() -> (
    None
):
    bench = Bench(speed_fails=True)
    path = stopped(bench, coast_s=3.0)
    assert bench.said == ["field off", "drive off", "load off at 3000.0"]
    assert path.report is not None
    assert any("speed not known" in event.words for event in path.report.events)


def test_a_journal_that_fails_does_not_end_the_order() -> None:
    def full(_event: StopEvent) -> None:
        raise OSError(28, "No space left on device")

    bench = Bench()
    path = stopped(bench, note=full)
    assert bench.said[-1].startswith("load off")
    assert path.report is not None
    assert any("journal" in event.words for event in path.report.events)


def test_the_first_reason_wins_and_a_second_one_does_not_cut_the_order_short() -> None:
    bench = Bench()
    path = stop_path(bench)
    threads = [
        threading.Thread(target=path.trip, args=(StopReason("signal", f"signal {n}"),))
        for n in range(20)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    report = path.wait(WAIT_S)
    assert report is not None
    assert not path.trip(StopReason("operator", "again"))
    assert report.reason.words.startswith("signal")
    assert bench.said == ["field off", "drive off", "load off at 500.0"]


def test_waiting_for_a_stop_that_nobody_asked_for_ends_in_time() -> None:
    path = stop_path(Bench())
    assert path.wait(0.01) is None
    assert not path.tripped


@pytest.mark.parametrize("tries", [0, 1, 2])
def test_every_try_at_the_drive_is_in_the_report(tries: int) -> None:
    bench = Bench(drive_fails=tries)
    path = stopped(bench)
    assert path.report is not None
    failed = [event for event in path.report.events if not event.ok]
    tried = [event for event in failed if event.words != DOES_NOT_STOP]
    assert len(tried) == tries
    assert len(failed) - tries == (1 if tries else 0)


@pytest.mark.parametrize("fails", [1, 2, 99])
def test_the_emergency_stop_is_called_for_after_the_first_failed_try_and_taken_back(
    fails: int,
) -> None:
    """Nobody waits fifteen seconds to be told that the drive cannot be reached."""
    bench = Bench(drive_fails=fails)
    path = stop_path(bench)
    hands: list[str] = []
    deadlines_s: list[float] = []
    begin_halt = bench.begin_halt

    def halt(deadline_s: float) -> Done:
        assert path.report is not None
        hands.append(path.report.hands)
        deadlines_s.append(deadline_s)
        return begin_halt(deadline_s)

    object.__setattr__(bench, "begin_halt", halt)
    path.trip(StopReason("guard", "No good reading of the drive speed for 5.0 s."))
    report = path.wait(WAIT_S)
    assert report is not None
    tries = min(fails + 1, 3)
    assert hands[:tries] == ["", *[EMERGENCY] * (tries - 1)]
    assert deadlines_s[0] <= 2.0
    words = [event.words for event in report.events]
    assert words.count(DOES_NOT_STOP) == 1
    assert words[1] == DOES_NOT_STOP, "right after the first try"
    if fails < 3:
        assert report.drive_off
        assert report.hands == ""


@dataclass
class Slow(Done):
    """A stop that is on its way for longer than a drive in order needs; then it is read back."""

    asked: list[float] = field(default_factory=list)
    hands_at_wait: list[str] = field(default_factory=list)
    hands: Callable[[], str] = str

    def ended_within(self, timeout_s: float) -> bool:
        self.asked.append(timeout_s)
        return False

    def wait(self, timeout_s: float) -> None:
        self.hands_at_wait.append(self.hands())


def test_a_stop_not_read_back_within_a_second_calls_out_while_the_port_still_tries() -> None:
    bench = Bench()
    path = stop_path(bench)
    slow = Slow(hands=lambda: path.report.hands if path.report else "")

    def halt(_deadline_s: float) -> Done:
        bench.said.append("drive off")
        return slow

    object.__setattr__(bench, "begin_halt", halt)
    path.trip(StopReason("guard", "No good reading of the shaft speed for 3.0 s."))
    report = path.wait(WAIT_S)
    assert report is not None
    assert slow.asked == [1.0]
    assert slow.hands_at_wait == [EMERGENCY], "called out before the try of two seconds is over"
    words = [event.words for event in report.events]
    assert words.index(DOES_NOT_STOP) < words.index("drive off, speed 0")
    assert report.hands == "", "taken back once the stop is read back and the shaft stands"
