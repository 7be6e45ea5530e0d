"""The rig as a whole, without wires: what turns, heats, regulates, and goes wrong."""

from __future__ import annotations

import math
import statistics
import sys
from collections.abc import Callable
from types import FrameType

import pytest

from drivers.simulated.machine import after_soak
from drivers.simulated.machines import MACHINES
from drivers.simulated.rig_model import STEP_S, RigModel
from drivers.simulated.sensors import SENSORS
from profiles.channels import CHANNELS
from tests.in_process_rig import InProcessRig


def turning(
    shaft_rpm: float,
    *,
    fault: str | None = None,
    warm: bool = False,
    held: bool = True,
    step_s: float = STEP_S,
) -> RigModel:
    """A rig that has turned for 8 s with the load holding the test voltage."""
    rig = RigModel(fault=fault, step_s=step_s)
    if warm:
        rig.soak()
    if held:
        rig.load_hold(rig.machine.test_volts)
        rig.load_switch(on=True)
    rig.set_motor_rpm(shaft_rpm / rig.ratio)
    rig.set_run(on=True)
    rig.advance(8.0)
    return rig


def step_to(rig: RigModel, shaft_rpm: float, for_s: float = 5.0) -> None:
    rig.set_motor_rpm(shaft_rpm / rig.ratio)
    rig.advance(rig.now_s + for_s)


# ---- at rest -------------------------------------------------------------------------------


def test_at_standstill_without_ignition_nothing_flows_at_b_plus() -> None:
    rig = RigModel(seed=4)
    rig.advance(5.0)
    assert rig.truth("amps") == 0.0
    assert rig.truth("field_amps") == 0.0
    assert rig.truth("w_hz") == 0.0
    assert rig.truth("volts") == pytest.approx(12.7, abs=0.01)
    assert abs(rig.sense("amps")) < 0.5


def test_ignition_alone_draws_the_field_current_out_of_the_battery() -> None:
    rig = RigModel()
    rig.ignition(on=True)
    rig.advance(2.0)
    assert rig.truth("amps") == pytest.approx(-rig.truth("field_amps"))
    assert rig.truth("field_amps") > 3.0
    rig.ignition(on=False)
    rig.advance(4.0)
    assert rig.truth("amps") == pytest.approx(0.0, abs=1e-3)


def test_every_channel_has_a_sensor_and_can_be_read() -> None:
    assert set(SENSORS) == set(CHANNELS)
    rig = turning(3000.0)
    for channel, kind in SENSORS.items():
        shown = rig.sense(channel)
        steps = shown / kind.resolution
        assert steps == pytest.approx(round(steps), abs=1e-4), channel
        assert math.isfinite(rig.truth(channel))


# ---- output --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", list(MACHINES))
@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_warm_machine_gives_its_published_amps_on_the_rig(name: str, place: int) -> None:
    machine = MACHINES[name]
    rpm = list(machine.hot_net_amps)[1:4][place]
    rig = RigModel(name)
    rig.soak()
    rig.load_hold(machine.test_volts)
    rig.load_switch(on=True)
    rig.set_run(on=True)
    step_to(rig, rpm, 40.0)
    expected = after_soak(machine, rig.truth("shaft_rpm")).net_amps
    assert rig.truth("volts") == pytest.approx(machine.test_volts, abs=0.02)
    assert rig.truth("amps") == pytest.approx(expected, rel=0.012)


def test_below_cut_in_it_costs_its_field_current_and_above_it_delivers() -> None:
    low, high = turning(700.0), turning(1500.0)
    assert low.truth("amps") < -2.0
    assert high.truth("amps") > 40.0


def test_a_regulated_machine_holds_its_voltage_with_less_than_full_field() -> None:
    rig = turning(4000.0, held=False)
    rig.pile(14.0 / 20.0)
    rig.advance(40.0)
    assert rig.truth("volts") == pytest.approx(14.4, abs=0.15)
    assert rig.field.duty < 0.9
    assert rig.truth("field_volts") < rig.truth("volts") - 1.0


def test_the_bank_takes_the_amps_of_its_resistors() -> None:
    rig = turning(4000.0, held=False)
    rig.advance(90.0)  # until the battery is full
    before = rig.truth("amps")
    rig.bank([False, False, False, True])
    rig.advance(rig.now_s + 1.0)
    expected = 40.0 * rig.truth("volts") / rig.machine.test_volts
    assert rig.bus.load_amps == pytest.approx(expected, rel=0.02)
    assert rig.truth("amps") > before + 20.0
    rig.set_bank({3: 10.0})
    rig.bank([False, False, False, True])
    rig.advance(rig.now_s + 1.0)
    assert rig.bus.load_amps == pytest.approx(expected / 4.0, rel=0.1)


def test_a_carbon_pile_takes_more_as_it_warms_and_nothing_when_open() -> None:
    rig = turning(4000.0, held=False)
    rig.pile(0.3)
    rig.advance(rig.now_s + 1.0)
    first = rig.bus.load_amps / rig.truth("battery_volts")
    rig.advance(rig.now_s + 15.0)
    assert 1.02 < rig.bus.load_amps / rig.truth("battery_volts") / first < 1.06
    rig.pile(None)
    assert rig.bus.load_amps == 0.0


def test_w_terminal_counts_pole_pairs_times_turns() -> None:
    rig = turning(3000.0)
    assert rig.truth("w_hz") == pytest.approx(6.0 * rig.truth("shaft_rpm") / 60.0)
    assert rig.sense("w_hz") == pytest.approx(rig.truth("w_hz"), rel=2e-3)


def test_a_field_fed_from_the_bench_leaves_the_gross_current_at_b_plus() -> None:
    rig = RigModel(field_from_bench=True)
    rig.field_switch(on=True)
    rig.load_hold(13.5)
    rig.load_switch(on=True)
    rig.set_run(on=True)
    step_to(rig, 3000.0)
    assert rig.truth("amps") == rig.gross_amps
    rig.field_switch(on=False)
    rig.advance(rig.now_s + 3.0)
    assert rig.truth("amps") == pytest.approx(0.0, abs=0.01)


# ---- heat ----------------------------------------------------------------------------------


def test_a_cold_machine_loses_amps_as_it_warms_and_is_steady_after_half_an_hour() -> None:
    # 30 min at 5000 rpm before the output curve: Fiat Spider workshop manual
    rig = turning(5000.0, step_s=0.02)
    cold = rig.truth("amps")
    rig.advance(1800.0)
    half_hour = rig.truth("amps"), rig.truth("case_c")
    assert cold - 6.0 < half_hour[0] < cold - 2.0
    rig.advance(2100.0)
    assert rig.truth("amps") == pytest.approx(half_hour[0], abs=0.1)
    assert rig.truth("case_c") == pytest.approx(half_hour[1], abs=0.5)


def test_the_case_warms_within_minutes_and_the_winding_within_one() -> None:
    rig = turning(4000.0, step_s=0.02)
    rig.advance(1500.0)
    rise = rig.truth("case_c") - 25.0
    again = turning(4000.0, step_s=0.02)
    while again.truth("case_c") - 25.0 < (1.0 - math.exp(-1.0)) * rise:
        again.advance(again.now_s + 5.0)
    assert 120.0 < again.now_s < 500.0
    ahead = again.heat.winding_c - again.heat.case_c
    step_to(again, 0.0, 60.0)
    assert again.heat.winding_c - again.heat.case_c < 0.4 * ahead


def test_soaking_takes_the_machine_where_an_hour_of_running_does() -> None:
    run, soaked = turning(5000.0, step_s=0.02), RigModel()
    run.advance(3600.0)
    soaked.soak()
    assert soaked.truth("case_c") == pytest.approx(run.truth("case_c"), abs=1.5)
    assert soaked.heat.winding_c == pytest.approx(run.heat.winding_c, abs=2.0)


# ---- drive, belt and hand ------------------------------------------------------------------


def test_the_drive_ramps_no_faster_than_it_can() -> None:
    rig = RigModel()
    rig.set_motor_rpm(6000.0 / rig.ratio)
    rig.set_run(on=True)
    rig.advance(2.0)
    assert 2000.0 < rig.truth("shaft_rpm") < 2500.0
    rig.advance(8.0)
    assert rig.truth("drive_rpm") == pytest.approx(6000.0 / rig.ratio)
    rig.set_run(on=False)
    rig.advance(22.0)
    assert rig.truth("shaft_rpm") == pytest.approx(0.0, abs=1e-6)
    assert rig.sense("shaft_rpm") == 0.0
    assert rig.motor.set_rpm > 0.0


def test_the_drive_stops_when_it_hears_nothing_for_as_long_as_it_was_told() -> None:
    rig = RigModel()
    rig.set_comm_timeout(2.0)
    rig.set_motor_rpm(1000.0)
    rig.set_run(on=True)
    for second in range(1, 5):
        rig.hear()
        rig.advance(float(second))
    assert rig.motor.run
    rig.advance(5.0)
    assert rig.motor.run
    rig.advance(6.1)
    assert not rig.motor.run
    assert rig.motor.stopped_for_silence
    rig.advance(15.0)
    assert rig.truth("drive_rpm") == 0.0
    rig.hear()
    rig.set_run(on=True)
    rig.advance(16.0)
    assert rig.truth("drive_rpm") > 0.0


def test_without_a_time_out_the_drive_turns_on_for_ever() -> None:
    rig = turning(2000.0)
    rig.advance(120.0)
    assert rig.truth("shaft_rpm") > 1900.0


def test_a_drive_that_ignores_stop_acknowledges_it_and_turns_on() -> None:
    rig = turning(2000.0, fault="drive-ignores-stop")
    rig.set_run(on=False)
    rig.set_motor_rpm(0.0)
    rig.advance(30.0)
    assert not rig.motor.run
    assert rig.motor.set_rpm == 0.0
    assert rig.truth("shaft_rpm") > 1900.0


def test_a_slipping_belt_shows_near_the_torque_peak_and_not_at_the_top() -> None:
    slips: dict[str | None, list[float]] = {}
    for fault in (None, "slipping-belt"):
        rig = turning(1500.0, fault=fault, warm=True)
        slips[fault] = []
        for rpm in (1500.0, 2000.0, 2500.0, 5000.0):
            step_to(rig, rpm)
            ratio = rig.truth("shaft_rpm") / (rig.truth("engine_rpm") * rig.ratio)
            slips[fault].append(1.0 - ratio)
    assert all(slip < 0.012 for slip in slips[None])
    assert max(slips["slipping-belt"][1:3]) > 0.15
    assert slips["slipping-belt"][3] < 0.03


def test_a_hand_on_the_throttle_wobbles_about_the_speed_it_was_told() -> None:
    rig = RigModel(seed=3, ratio=2.5)
    rig.throttle(800.0)
    rig.load_hold(13.5)
    rig.load_switch(on=True)
    rig.advance(10.0)
    speeds = []
    for second in range(11, 71):
        rig.advance(float(second))
        speeds.append(rig.truth("engine_rpm"))
    assert statistics.mean(speeds) == pytest.approx(800.0, rel=0.02)
    assert 0.5 < statistics.stdev(speeds) < 8.0
    assert rig.truth("shaft_rpm") == pytest.approx(2.5 * speeds[-1], rel=0.02)
    assert rig.truth("drive_rpm") == 0.0
    assert rig.truth("amps") > 40.0


# ---- faults --------------------------------------------------------------------------------


def amps_at(fault: str | None, *speeds: float) -> list[float]:
    rig = turning(speeds[0], fault=fault, warm=True)
    amps = []
    for rpm in speeds:
        step_to(rig, rpm)
        amps.append(rig.truth("amps"))
    return amps


def test_an_open_diode_is_seen_at_low_speed_and_in_the_ripple() -> None:
    sound, broken = amps_at(None, 1500.0, 6000.0), amps_at("open-diode", 1500.0, 6000.0)
    assert 0.6 < broken[0] / sound[0] < 0.75
    assert broken[1] / sound[1] > 0.95
    ripple = {f: turning(3000.0, fault=f).truth("ripple_volts") for f in (None, "open-diode")}
    assert ripple[None] == pytest.approx(0.032, abs=0.01)
    assert ripple["open-diode"] > 6.0 * ripple[None]


def test_an_open_phase_halves_the_top_of_the_curve() -> None:
    sound, broken = amps_at(None, 6000.0), amps_at("open-phase", 6000.0)
    assert 0.5 < broken[0] / sound[0] < 0.6
    lines = turning(3000.0, fault="open-phase").ripple_lines()
    assert lines[1] == 0.0
    assert lines[2] > 5.0 * lines[6]


def test_a_weak_field_takes_all_speeds_down_and_shows_in_the_field_current() -> None:
    sound, weak = amps_at(None, 1500.0, 6000.0), amps_at("weak-field", 1500.0, 6000.0)
    assert weak[0] < 0.3 * sound[0]
    assert 0.6 < weak[1] / sound[1] < 0.85
    field = {f: turning(3000.0, fault=f).truth("field_amps") for f in (None, "weak-field")}
    assert field["weak-field"] < 0.55 * field[None]


def test_shorted_rotor_turns_draw_more_and_give_less() -> None:
    sound, shorted = turning(3000.0), turning(3000.0, fault="shorted-turns")
    assert shorted.truth("field_amps") > 1.2 * sound.truth("field_amps")
    assert shorted.truth("amps") < 0.9 * sound.truth("amps")


def test_a_worn_brush_scatters_the_amps_within_seconds() -> None:
    spread = {}
    for fault in (None, "worn-brush"):
        rig = turning(3000.0, fault=fault)
        amps = []
        for tenth in range(100):
            rig.advance(8.0 + tenth / 10.0)
            amps.append(rig.truth("amps"))
        spread[fault] = statistics.stdev(amps)
    assert spread[None] < 0.3
    assert spread["worn-brush"] > 5.0


def test_a_regulator_set_low_never_reaches_the_test_voltage() -> None:
    rig = turning(4000.0, fault="regulator-low", warm=True)
    assert rig.truth("volts") < 13.0
    assert rig.truth("amps") < 15.0


def test_a_machine_that_is_not_excited_gives_nothing_and_has_no_field_current() -> None:
    rig = turning(3000.0, fault="not-excited")
    assert rig.truth("amps") == 0.0
    assert rig.truth("field_amps") == 0.0
    assert turning(600.0, fault="not-excited").truth("w_hz") == 0.0


def test_a_bad_joint_in_the_cable_parts_battery_from_b_plus() -> None:
    drop = {}
    for fault in (None, "cable-drop"):
        rig = turning(4000.0, fault=fault)
        drop[fault] = rig.truth("volts") - rig.truth("battery_volts")
    assert drop[None] < 0.15
    assert drop["cable-drop"] > 0.8


def test_a_clamp_that_was_not_zeroed_is_off_by_amps() -> None:
    rig = RigModel(fault="clamp-zero-off")
    rig.advance(1.0)
    assert rig.truth("amps") == 0.0
    assert rig.sense("amps") == pytest.approx(2.5, abs=0.4)


@pytest.mark.parametrize("fault", ["uneven-phase", "two-open-diodes"])
def test_other_faults_of_the_winding_and_bridge_cost_amps_at_low_speed(fault: str) -> None:
    assert amps_at(fault, 1500.0)[0] < 0.95 * amps_at(None, 1500.0)[0]


def test_a_fault_begins_when_it_was_told_to() -> None:
    rig = turning(3000.0, fault="open-phase@12")
    rig.advance(11.9)
    before = rig.truth("amps")
    rig.advance(14.0)
    assert rig.truth("amps") < 0.7 * before
    rig = turning(3000.0)
    rig.fault_at("not-excited", 9.0)
    rig.advance(8.9)
    assert rig.truth("amps") > 60.0
    rig.advance(12.0)
    assert rig.truth("amps") == 0.0


def test_a_frozen_instrument_repeats_itself_while_the_truth_moves() -> None:
    rig = turning(2000.0, fault="frozen-value-volts@9")
    rig.advance(9.5)
    shown = rig.sense("volts")
    rig.load_switch(on=False)
    rig.advance(14.0)
    assert rig.sense("volts") == shown
    assert abs(rig.truth("volts") - shown) > 0.3


# ---- readings ------------------------------------------------------------------------------


def run_of(seed: int) -> list[tuple[str, float, float | None]]:
    rig = InProcessRig(seed=seed, fault="worn-brush@5")
    rig.load_hold(13.5)
    rig.load_switch(on=True)
    rig.set_motor_rpm(1500.0)
    rig.set_run(on=True)
    return [(one.channel, one.t_s, one.value) for one in rig.advance(12.0)]


def test_the_same_seed_gives_the_same_run_and_another_seed_another() -> None:
    assert run_of(7) == run_of(7)
    assert run_of(7) != run_of(8)


def test_one_long_advance_and_many_short_ones_are_the_same() -> None:
    rigs = [InProcessRig(seed=2), InProcessRig(seed=2)]
    for rig in rigs:
        rig.set_motor_rpm(1500.0)
        rig.set_run(on=True)
    at_once = rigs[0].advance(6.0)
    bit_by_bit = [one for _ in range(60) for one in rigs[1].advance(0.1)]
    assert [(r.channel, r.value) for r in at_once] == [(r.channel, r.value) for r in bit_by_bit]


def test_noise_and_zero_are_what_the_sensor_is_said_to_have() -> None:
    rig = turning(3000.0, warm=True)
    shown = [rig.sense("amps") - rig.truth("amps") for _ in range(2000)]
    kind = SENSORS["amps"]
    assert statistics.stdev(shown) == pytest.approx(
        kind.noise + kind.noise_of_reading * rig.truth("amps"), rel=0.1
    )
    most = kind.gain_limit * rig.truth("amps") + kind.zero_limit + 3.0 * kind.zero_wander + 0.1
    assert abs(statistics.mean(shown)) < most


def python_calls(act: Callable[[], None]) -> int:
    calls = 0

    def count(frame: FrameType, event: str, arg: object) -> None:
        nonlocal calls
        calls += event == "call"

    before = sys.getprofile()
    sys.setprofile(count)
    try:
        act()
    finally:
        sys.setprofile(before)
    return calls


def test_a_step_of_the_physics_stays_cheap() -> None:
    # counted, not timed: about 0.5 us a call, so some 6 us a step; 300 s of rig in well below 1 s
    rig = turning(3000.0)
    assert python_calls(lambda: rig.advance(rig.now_s + 10.0)) <= 18 * 1000
