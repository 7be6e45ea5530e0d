"""What makes the guard trip, and what does not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from acquire.guard import ClockWatch, Guard, GuardPlan, Trip
from acquire.report.language import language
from acquire.report.recorded_words import in_language
from drivers.errors import BadAnswer
from drivers.readings import Quality, Reading

PLAN = GuardPlan(
    highest={"volts": 16.0, "amps": 300.0, "case_c": 110.0, "shaft_rpm": 12360.0},
    watched=frozenset({"shaft_rpm", "amps", "volts", "drive_rpm"}),
    silent_s=3.0,
    slip_percent_max=6.0,
    speed_ratio=1.8,
    where={"amps": "socket://127.0.0.1:4002"},
)


def run_through(
    guard: Guard, *, seconds: float, shaft: float, drive: float | None, start_s: float = 0.0
) -> Trip | None:
    """Readings at 10 Hz with everything else in order; the first trip."""
    for n in range(int(seconds * 10)):
        t_s = start_s + n / 10
        readings = [Reading("shaft_rpm", t_s, shaft), Reading("amps", t_s, 50.0)]
        readings.append(Reading("volts", t_s, 13.5))
        if drive is not None:
            readings.append(Reading("drive_rpm", t_s, drive))
        trips = [guard.see(reading) for reading in readings] + [guard.tick(t_s)]
        trip = next((one for one in trips if one is not None), None)
        if trip is not None:
            return trip
    return None


@pytest.mark.parametrize(
    ("channel", "value", "unit"),
    [
        ("volts", 16.1, "V"),
        ("amps", 300.5, "A"),
        ("amps", -300.5, "A"),
        ("case_c", 111.0, "°C"),
        ("shaft_rpm", 12400, "rpm"),
    ],
)
def test_a_reading_above_its_limit_trips_and_names_value_and_limit(
    channel: str, value: float, unit: str
) -> None:
    trip = Guard(PLAN).see(Reading(channel, 1.0, value))
    assert trip is not None
    assert trip.channel == channel
    assert trip.value == value
    assert trip.limit == PLAN.highest[channel]
    assert unit in trip.words


def test_a_reading_at_its_limit_does_not_trip_nor_one_that_is_not_ok() -> None:
    guard = Guard(PLAN)
    assert guard.see(Reading("volts", 1.0, 16.0)) is None
    assert guard.see(Reading("volts", 1.1, 99.0, Quality.STALE)) is None
    assert guard.see(Reading("volts", 1.2, None, Quality.OVERLOAD)) is None


def test_silence_counts_only_once_the_drive_may_turn() -> None:
    guard = Guard(PLAN)
    assert guard.tick(1000.0) is None
    guard.told_to_run(1000.0)
    assert guard.tick(1002.9) is None
    trip = guard.tick(1003.1)
    assert trip is not None
    assert trip.kind == "silent"


def test_without_a_drive_silence_counts_from_the_first_step_on_and_nothing_else_is_judged() -> None:
    guard = Guard(replace(PLAN, watched=frozenset({"amps", "volts"})))
    guard.watch_silence(1000.0)
    for n in range(60):  # a channel that happens to be called drive speed is nobody's drive
        t_s = 1000.0 + n / 10
        seen = [Reading("drive_rpm", t_s, 900.0), Reading("shaft_rpm", t_s, 0.0)]
        seen.append(Reading("volts", t_s, 13.5))
        assert [guard.see(reading) for reading in seen] == [None] * 3
        trip = guard.tick(t_s)
        if trip is not None:
            break
    assert trip is not None
    assert (trip.kind, trip.channel) == ("silent", "amps")
    assert 3.0 < (trip.value or 0.0) < 3.2


def test_whatever_fell_silent_together_is_named_together() -> None:
    """All four wires lost at once: the cause is what they share, not the ammeter's plug."""
    guard = Guard(PLAN)
    guard.told_to_run(0.0)
    for n in range(20):
        for late_s, channel in enumerate(("shaft_rpm", "amps", "volts", "drive_rpm")):
            guard.see(Reading(channel, (n * 10 + late_s) / 100, 50.0))
    trips = [guard.tick(n / 10) for n in range(20, 60)]
    trip = next(trip for trip in trips if trip is not None)
    nor = " Nor of the output current, motor speed, output voltage: look at what they share."
    assert trip.words.endswith(f"before you run again.{nor}")

    alone = Guard(PLAN)
    alone.told_to_run(0.0)
    alone.see(Reading("amps", 0.5, 50.0))
    for channel in ("shaft_rpm", "volts", "drive_rpm"):
        alone.see(Reading(channel, 2.0, 50.0))
    words = (alone.tick(3.6) or trip).words
    assert words.endswith("before you run again."), "who was heard a second ago is not lost"


def test_only_ok_readings_break_the_silence_and_the_port_is_named() -> None:
    guard = Guard(replace(PLAN, watched=frozenset({"amps"})))
    guard.told_to_run(0.0)
    for n in range(40):
        guard.see(Reading("amps", n / 10, None, Quality.TIMEOUT))
    trip = guard.tick(3.1)
    assert trip is not None
    assert "No good reading of the output current for 3.1 s" in trip.words
    assert "socket://127.0.0.1:4002" in trip.words


def _silent_after(note: str, quality: Quality = Quality.BAD) -> str:
    guard = Guard(replace(PLAN, watched=frozenset({"amps"})))
    guard.told_to_run(0.0)
    guard.see(Reading("amps", 0.5, 20.0))
    guard.see(Reading("amps", 0.6, None, quality, note=note))
    guard.see(Reading("amps", 1.0, None, Quality.TIMEOUT, note="amps: no answer within 0.5 s."))
    trip = guard.tick(3.7)
    assert trip is not None
    return trip.words


def test_silence_names_why_the_last_answer_was_refused() -> None:
    note = str(BadAnswer("amps", "-50.03 is not plausible (-50 to 330); it came as -0.010006.", b"",
                         what_to_do="Check scale, offset and plausible."))  # fmt: skip
    said = " The last answer was refused: -50.03 is not plausible (-50 to 330): look first at"
    words = _silent_after(note)
    assert said in words
    assert not in_language(language("de"), words).lang
    words = _silent_after("amps: no number: garb%. Look.")
    assert words.endswith("before you run again. The last answer was refused: no number: garb%.")
    assert not in_language(language("de"), words).lang
    assert len(_silent_after("x" * 5000)) < 400


def test_silence_tells_of_no_refusal_where_none_came_after_the_last_good_reading() -> None:
    assert _silent_after("amps: no answer.", Quality.TIMEOUT).endswith("before you run again.")
    guard = Guard(replace(PLAN, watched=frozenset({"amps"})))
    guard.told_to_run(0.0)
    guard.see(Reading("amps", 0.5, None, Quality.BAD, note="amps: no number."))
    guard.see(Reading("amps", 0.6, 20.0))
    trip = guard.tick(3.7)
    assert trip is not None
    assert trip.words.endswith("before you run again.")


def test_the_guard_knows_which_channel_is_quiet_for_longest_once_the_drive_may_turn() -> None:
    guard = Guard(PLAN)
    guard.see(Reading("amps", 1.0, 50.0))
    assert guard.quiet(90.0) == ("", 0.0)
    guard.told_to_run(10.0)
    for channel, t_s in (("amps", 11.0), ("volts", 12.0), ("shaft_rpm", 12.0)):
        guard.see(Reading(channel, t_s, 50.0))
    assert guard.quiet(12.5) == ("drive_rpm", 2.5), "never heard: since it was told to run"
    guard.see(Reading("drive_rpm", 12.4, 50.0))
    assert guard.quiet(12.5) == ("amps", 1.5)
    guard.see(Reading("amps", 12.5, None, Quality.TIMEOUT))
    assert guard.quiet(13.0) == ("amps", 2.0)


def test_a_slipping_belt_trips_but_not_within_three_seconds_of_a_ramp() -> None:
    guard = Guard(PLAN)
    guard.told_to_run(0.0)
    guard.told_speed(0.0, 3000.0)
    slipping = 3000.0 * 0.9
    trip = run_through(guard, seconds=20, shaft=slipping, drive=3000 / 1.8)
    assert trip is not None
    assert trip.kind == "slip"
    assert trip.value == pytest.approx(10.0)


def test_slip_is_not_judged_while_the_set_speed_keeps_moving() -> None:
    guard = Guard(PLAN)
    guard.told_to_run(0.0)
    for n in range(30):
        guard.told_speed(n * 0.5, 1000 + n * 50.0)
        trip = run_through(
            guard, seconds=0.5, shaft=0.8 * (1000 + n * 50), drive=(1000 + n * 50) / 1.8,
            start_s=n * 0.5,
        )  # fmt: skip
        assert trip is None


def test_slip_of_one_second_is_forgiven() -> None:
    guard = Guard(PLAN)
    guard.told_to_run(0.0)
    guard.told_speed(0.0, 3000.0)
    assert run_through(guard, seconds=6, shaft=2970, drive=3000 / 1.8) is None
    assert run_through(guard, seconds=0.9, shaft=2500, drive=3000 / 1.8, start_s=6) is None
    assert run_through(guard, seconds=6, shaft=2970, drive=3000 / 1.8, start_s=6.9) is None


def test_a_shaft_that_stands_while_the_drive_turns_trips_even_in_a_ramp() -> None:
    guard = Guard(PLAN)
    guard.told_to_run(0.0)
    trip = None
    for n in range(60):
        guard.told_speed(n / 10, 1500.0 + n)
        trip = run_through(guard, seconds=0.1, shaft=0.0, drive=1500 / 1.8, start_s=n / 10)
        if trip is not None:
            break
    assert trip is not None
    assert trip.kind == "stall"


def test_a_drive_that_does_not_follow_its_setting_trips() -> None:
    guard = Guard(PLAN)
    guard.told_to_run(0.0)
    guard.told_speed(0.0, 3000.0)
    trip = run_through(guard, seconds=20, shaft=1500, drive=1500 / 1.8)
    assert trip is not None
    assert trip.kind == "drive"


def test_a_wrong_pulley_in_the_rig_file_shows_as_slip_the_other_way() -> None:
    guard = Guard(PLAN)
    guard.told_to_run(0.0)
    guard.told_speed(0.0, 3000.0)
    trip = run_through(guard, seconds=20, shaft=3400, drive=3000 / 1.8)
    assert trip is not None
    assert trip.kind == "slip"
    assert trip.value is not None
    assert trip.value < 0


def test_a_load_that_is_on_too_long_trips() -> None:
    guard = Guard(replace(PLAN, load_on_s_max=15.0))
    guard.load_is_on(10.0, on=True)
    guard.load_is_on(12.0, on=True)
    assert guard.tick(25.0) is None
    trip = guard.tick(25.1)
    assert trip is not None
    assert "OPEN THE PILE" in trip.words
    guard.load_is_on(26.0, on=False)
    assert guard.tick(100.0) is None


def test_margins_say_how_much_of_each_limit_is_used() -> None:
    guard = Guard(PLAN)
    guard.see(Reading("volts", 1.0, 13.6))
    assert guard.margins() == {"volts": pytest.approx(0.85)}


def test_a_computer_that_slept_is_noticed_and_a_slow_clock_is_not() -> None:
    watch = ClockWatch(monotonic_s=100.0, wall_s=1_000_000.0)
    assert watch.tick(101.0, 1_000_001.0) is None
    assert watch.tick(161.0, 1_000_061.5) is None
    trip = watch.tick(162.0, 1_000_065.6)
    assert trip is not None
    assert trip.kind == "clock"
    assert watch.tick(163.0, 1_000_066.6) is None, "told once"
