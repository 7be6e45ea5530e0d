"""Stall, slip and limits on rigs that read the shaft speed otherwise than by a tachometer."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.guard import Guard, GuardPlan, Trip
from acquire.guard_plan import guard_plan
from acquire.sweep.commands import RunDrive, SetShaftRpm
from acquire.sweep.plan import SpeedSource, plan_sweep
from drivers.readings import Reading
from profiles.catalogue import load_method, load_rated, load_rig
from profiles.instrument import HandChannel
from profiles.rig import Rig
from tests.in_process_rig import DEFAULT_EVERY_S, InProcessRig
from tests.rehearsal import rehearse

RATIO = 1.8
POLE_PAIRS = 6
SOURCES: list[tuple[SpeedSource, float]] = [
    ("shaft_rpm", 1.0),
    ("w_hz", 60.0 / POLE_PAIRS),
    ("engine_rpm", RATIO),
]
UNIT = "small-frame-14v-90a"


def watching(source: SpeedSource, shaft_per_source: float) -> Guard:
    guard = Guard(
        GuardPlan(
            highest={},
            watched=frozenset(),
            speed_ratio=RATIO,
            speed_source=source,
            shaft_per_source=shaft_per_source,
            set_by={"slip_percent_max": "limits.slip_percent_max, bench.toml"},
        )
    )
    guard.told_to_run(0.0)
    guard.told_speed(0.0, 3000.0)
    return guard


def first_trip(
    guard: Guard, reads: str, value: float, *, from_s: float = 0.0, for_s: float = 20.0
) -> tuple[float, Trip] | None:
    """The drive gives 3000 rpm at the shaft; ten readings a second."""
    for n in range(int(for_s * 10)):
        t_s = from_s + n / 10
        for reading in (Reading(reads, t_s, value), Reading("drive_rpm", t_s, 3000.0 / RATIO)):
            trip = guard.see(reading)
            if trip is not None:
                return t_s, trip
    return None


@pytest.mark.parametrize(("source", "per"), SOURCES)
def test_a_shaft_that_stands_still_stops_the_drive_whatever_reads_its_speed(
    source: SpeedSource, per: float
) -> None:
    guard = watching(source, per)
    assert first_trip(guard, source, 2960.0 / per, for_s=10.0) is None
    tripped = first_trip(guard, source, 0.0, from_s=10.0)
    assert tripped is not None
    at_s, trip = tripped
    assert at_s <= 13.1
    assert (trip.channel, trip.kind) in ((source, "stall"), (source, "slip"))


@pytest.mark.parametrize(("source", "per"), SOURCES)
def test_a_shaft_that_lags_behind_its_drive_trips_and_names_who_allows_how_much(
    source: SpeedSource, per: float
) -> None:
    tripped = first_trip(watching(source, per), source, 2700.0 / per)
    assert tripped is not None
    _, trip = tripped
    assert (trip.kind, trip.channel) == ("slip", source)
    assert trip.value == pytest.approx(10.0)
    assert "(allowed 6 % by limits.slip_percent_max, bench.toml)" in trip.words


def test_what_it_may_be_is_said_of_the_channel_that_was_read() -> None:
    w_lags = first_trip(watching("w_hz", 10.0), "w_hz", 270.0)
    w_stands = first_trip(watching("w_hz", 10.0), "w_hz", 0.0)
    motor_lags = first_trip(watching("engine_rpm", RATIO), "engine_rpm", 1500.0)
    assert w_lags is not None
    assert w_stands is not None
    assert motor_lags is not None
    assert "pole pairs" in w_lags[1].words
    assert "not excited" in w_stands[1].words
    assert "a belt that slips beyond it is not seen" in motor_lags[1].words


def test_the_w_terminal_may_be_dark_until_the_ramp_is_over_and_not_after_it() -> None:
    guard = watching("w_hz", 10.0)
    for n in range(40):
        guard.told_speed(n / 4, 1000.0 + 50 * n)
        assert first_trip(guard, "w_hz", 0.0, from_s=n / 4, for_s=0.25) is None
    tripped = first_trip(guard, "w_hz", 0.0, from_s=10.0)
    assert tripped is not None
    assert tripped[1].kind == "stall"
    assert tripped[0] <= 10.0 + 6.1


def test_the_drives_own_output_is_no_witness_of_the_shaft() -> None:
    guard = watching("drive_rpm", RATIO)
    assert first_trip(guard, "drive_rpm", 3000.0 / RATIO) is None


# ---- a whole sweep ---------------------------------------------------------------------------


def with_speed(source: str) -> Rig:
    """The simulated rig, its shaft speed read by `source` alone."""
    rig = load_rig("simulated").profile
    channels = {n: c for n, c in rig.channels.items() if n != "shaft_rpm"}
    speed = rig.channels["shaft_rpm"].model_copy(update={"every_s": 0.1})
    return rig.model_copy(update={"channels": {source: speed, **channels}})


def trip_of(source: str, fault: str | None) -> Trip | None:
    """A sweep on the simulated unit, then all that was read and told past the guard."""
    rig, rated = with_speed(source), load_rated(UNIT).profile.rated_curve()
    plan = plan_sweep(rig=rig, method=load_method("quick").profile, rated=rated)
    assert plan.speed_source == source
    every_s = {n: s for n, s in DEFAULT_EVERY_S.items() if n != "shaft_rpm"} | {source: 0.1}
    simulated = InProcessRig(UNIT, fault, 1, every_s=every_s)
    began_s = simulated.clock.monotonic_s()
    result = rehearse(plan, rig, simulated)
    guard = Guard(guard_plan(rig, plan, rated_max_rpm=None))
    events: list[tuple[float, object]] = [(began_s + t, c) for t, c in result.commands]
    events += [(reading.t_s, reading) for reading in result.readings]
    for t_s, event in sorted(events, key=lambda pair: pair[0]):
        match event:
            case RunDrive():
                guard.told_to_run(t_s)
            case SetShaftRpm(shaft_rpm):
                guard.told_speed(t_s, shaft_rpm)
            case Reading():
                trip = guard.see(event)
                if trip is not None:
                    return trip
    return None


@pytest.mark.parametrize("source", ["w_hz", "engine_rpm"])
def test_a_sound_unit_is_swept_without_a_trip_where_the_speed_is_derived(source: str) -> None:
    assert trip_of(source, None) is None


def test_a_slipping_belt_is_seen_by_the_w_terminal() -> None:
    trip = trip_of("w_hz", "slipping-belt")
    assert trip is not None
    assert (trip.kind, trip.channel) == ("slip", "w_hz")


def test_a_unit_that_is_not_excited_leaves_a_w_rig_blind_and_stops_it() -> None:
    trip = trip_of("w_hz", "not-excited")
    assert trip is not None
    assert (trip.kind, trip.channel) == ("stall", "w_hz")
    assert "not excited" in trip.words


def test_a_typed_speed_is_not_held_against_a_drive_that_has_moved_on() -> None:
    rig = load_rig("simulated").profile
    typed = HandChannel(driver="hand")
    channels = {n: typed if n == "shaft_rpm" else c for n, c in rig.channels.items()}
    rig = rig.model_copy(update={"channels": channels})
    plan = plan_sweep(rig=rig, method=load_method("quick").profile, rated=None, steps=(2000.0,))
    assert plan.speed_source == "shaft_rpm"
    guard = Guard(guard_plan(rig, plan, rated_max_rpm=None))
    guard.told_to_run(0.0)
    guard.told_speed(0.0, 3000.0)
    assert guard.see(Reading("shaft_rpm", 0.0, 1500.0)) is None
    for n in range(200):
        assert guard.see(Reading("drive_rpm", n / 10, 3000.0 / rig.ratio)) is None


# ---- who says so -----------------------------------------------------------------------------


def test_a_limit_is_told_with_the_key_and_the_file_it_stands_in() -> None:
    rig = load_rig("simulated").profile
    rated = load_rated(UNIT).profile.rated_curve()
    plan = plan_sweep(rig=rig, method=load_method("quick").profile, rated=rated)
    guarded = guard_plan(
        rig,
        plan,
        rated_max_rpm=9000.0,
        rig_file=Path("rigs") / "north-bench.toml",
        rated_file=Path("alternators") / "small.toml",
    )
    for channel, limit in guarded.highest.items():
        trip = Guard(guarded).see(Reading(channel, 1.0, limit + 1.0))
        assert trip is not None
        where = "small.toml" if channel == "shaft_rpm" else "north-bench.toml"
        assert where in trip.words, "who says so"
        assert "max" in trip.words, "the key"
    fast = Guard(guarded).see(Reading("shaft_rpm", 1.0, 9500.0))
    assert fast is not None
    assert "(1.03 x alternator.max_shaft_rpm, small.toml)" in fast.words


def test_a_profile_without_a_file_is_named_by_its_title() -> None:
    rig = load_rig("simulated").profile
    plan = plan_sweep(rig=rig, method=load_method("quick").profile, rated=None, steps=(2000.0,))
    guarded = guard_plan(rig, plan, rated_max_rpm=None)
    trip = Guard(guarded).see(Reading("volts", 1.0, 99.0))
    assert trip is not None
    assert f"limits.volts_max, rig '{rig.title}'" in trip.words
