"""The procedure of a sweep: what is done in which order, by readings alone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import pytest

from acquire.settle.tolerance import ChannelPlan
from acquire.sweep.commands import (
    CannotSee,
    Command,
    Finished,
    HaltDrive,
    HandsOn,
    HoldLonger,
    HoldVolts,
    LoadSwitch,
    Refused,
    Remark,
    RunDrive,
    SetShaftRpm,
    SkipStep,
    StepTaken,
    TakeNow,
    TickDecided,
    TypeReading,
    ZeroTaken,
)
from acquire.sweep.plan import Step, SweepPlan, WarmUp
from acquire.sweep.sweep import NO_OUTPUT, Sweep
from drivers.readings import Reading
from tests.sweep.toy_rig import ToyRig, drive_through, hands

CHANNELS = {
    "shaft_rpm": ChannelPlan(0.003, 5.0, 0.1),
    "amps": ChannelPlan(0.005, 0.1, 0.01),
    "volts": ChannelPlan(0.003, 0.05, 0.001),
}
PLAN = SweepPlan(
    steps=(Step(1, 1500.0), Step(2, 3000.0), Step(3, 6000.0)),
    test_volts=13.5,
    volts_within=0.1,
    driven=True,
    ramp_rpm_per_s=1000.0,
    speed_source="shaft_rpm",
    speed_ratio=1.0,
    load="holds",
    channels=CHANNELS,
    typed=frozenset(),
)
BY_HAND = replace(PLAN, driven=False, load="none", typed=frozenset(CHANNELS))


def test_zero_is_read_then_the_load_connected_and_only_then_may_the_drive_run() -> None:
    rig = ToyRig()
    drive_through(Sweep(PLAN), rig)
    kinds = [type(command) for command in rig.said if not isinstance(command, Remark)]
    order = [ZeroTaken, HoldVolts, LoadSwitch, RunDrive, SetShaftRpm]
    assert [kinds.index(kind) for kind in order] == sorted(kinds.index(kind) for kind in order)
    assert isinstance(rig.said[-1], Finished)


@pytest.mark.parametrize("volts", [25.4, 6.3])
def test_the_battery_of_another_system_is_refused_before_anything_is_switched_on(
    volts: float,
) -> None:
    sweep, said = Sweep(replace(PLAN, test_volts=13.5)), []
    for number in range(60):
        t_s = 0.1 * number
        readings = [Reading("volts", t_s, volts), Reading("amps", t_s + 0.01, 0.02)]
        said += sweep.step(t_s + 0.05, readings)
    refused = [c for c in said if isinstance(c, Refused)]
    assert len(refused) == 1
    assert f"{volts} V" in refused[0].words
    assert "13.5 V" in refused[0].words
    assert not any(isinstance(c, RunDrive | LoadSwitch | SetShaftRpm) for c in said)


def test_without_a_test_voltage_the_load_stays_off_and_the_operator_is_told() -> None:
    rig = ToyRig()
    drive_through(Sweep(replace(PLAN, test_volts=None)), rig)
    assert not any(isinstance(c, LoadSwitch) for c in rig.said)
    (told,) = [c.words for c in rig.said if isinstance(c, Remark) and c.words]
    assert "the load stays off" in told
    assert "--rated" in told
    assert NO_OUTPUT not in hands(rig), "nothing is to be seen of a unit without its load"
    loaded = ToyRig()
    drive_through(Sweep(PLAN), loaded)
    assert not any(isinstance(c, Remark) and c.words for c in loaded.said)


def test_every_step_is_taken_once_in_order_and_near_its_true_current() -> None:
    rig = ToyRig()
    taken = drive_through(Sweep(PLAN), rig)
    assert [step.step for step in taken] == [1, 2, 3]
    for step in taken:
        assert step.look is not None
        assert step.look.taken in ("yes", "predicted")
        shaft = step.look.channels["shaft_rpm"].mean
        assert abs(shaft - step.set_rpm) <= 6.0
        assert step.look.channels["amps"].mean == pytest.approx(rig.true_amps(shaft), abs=0.4)


def test_zero_of_the_current_sensor_is_subtracted() -> None:
    rig = ToyRig(zero_amps=2.5)
    taken = drive_through(Sweep(PLAN), rig)
    zero = next(command for command in rig.said if isinstance(command, ZeroTaken))
    assert zero.amps == pytest.approx(2.5, abs=0.1)
    assert taken[0].look is not None
    assert taken[0].look.channels["amps"].mean == pytest.approx(40.0, abs=0.4)


def test_set_speed_never_jumps_faster_than_the_ramp() -> None:
    rig = ToyRig()
    drive_through(Sweep(replace(PLAN, ramp_rpm_per_s=200.0)), rig)
    speeds = [0.0] + [c.shaft_rpm for c in rig.said if isinstance(c, SetShaftRpm)]
    jumps = [abs(after - before) for before, after in pairwise(speeds)]
    trims = 6000.0 * 0.08
    assert max(jumps) <= max(200.0 * 0.25 + 1e-6, trims)
    assert len(speeds) > 6000 / 50


def test_speed_is_trimmed_and_the_next_step_leads_by_what_was_learned() -> None:
    rig = ToyRig(slip=0.03)
    drive_through(Sweep(PLAN), rig)
    trims: dict[int, int] = {}
    step = 1
    for command in rig.said:
        if isinstance(command, StepTaken):
            step += 1
        if isinstance(command, Remark) and command.kind == "trimmed":
            trims[step] = trims.get(step, 0) + 1
    assert 1 <= trims[1] <= 2
    assert sum(trims.get(n, 0) for n in (2, 3)) <= 1, "what step 1 taught serves the others"


def test_batches_do_not_matter_only_reading_times_do() -> None:
    def run(batch: int) -> list[StepTaken]:
        sweep, rig, held = Sweep(PLAN), ToyRig(), []
        # The toy reacts to commands, so the same readings are made first and fed in batches then.
        drive_through(Sweep(PLAN), rig)
        script = ToyRig()
        readings: list[Reading] = []
        driver = Sweep(PLAN)
        while not driver.finished:
            fresh = script.advance()
            readings += fresh
            script.carry_out(driver.step(script.t_s, fresh))
        taken: list[StepTaken] = []
        for n, reading in enumerate(readings):
            held.append(reading)
            if n % batch == batch - 1:
                out = sweep.step(held[-1].t_s, held)
                taken += [c for c in out if isinstance(c, StepTaken)]
                held = []
        taken += [
            c for c in sweep.step(held[-1].t_s if held else 0.0, held) if isinstance(c, StepTaken)
        ]
        return taken

    assert run(1) == run(7) == run(64)


def test_readings_that_are_not_ok_never_enter() -> None:
    rig = ToyRig()
    sweep = Sweep(PLAN)
    from drivers.readings import Quality

    while not sweep.finished and rig.t_s < 500:
        spoiled = [
            Reading("amps", rig.t_s, 999.0, Quality.STALE),
            Reading("amps", rig.t_s, None, Quality.OVERLOAD),
        ]
        rig.carry_out(sweep.step(rig.t_s, spoiled + rig.advance()))
    taken = [c for c in rig.said if isinstance(c, StepTaken)]
    assert taken[0].look is not None
    assert taken[0].look.channels["amps"].mean == pytest.approx(40.0, abs=0.4)


def test_time_being_up_takes_the_point_unsettled_and_says_that_a_tick_decided() -> None:
    plan = replace(PLAN, steps=(Step(1, 1500.0),), give_up_s=40.0, predict=False)
    rig = ToyRig(noise_amps=3.0)
    taken = drive_through(Sweep(plan), rig)
    assert taken[0].look is not None
    assert taken[0].look.taken == "no"
    assert 40.0 <= taken[0].settle_s <= 41.0


def test_a_silent_sensor_ends_in_no_usable_reading_by_a_tick() -> None:
    plan = replace(PLAN, steps=(Step(1, 1500.0),), give_up_s=30.0)
    rig, sweep = ToyRig(), Sweep(plan)
    while not isinstance(getattr(sweep.phase, "step", None), Step) and rig.t_s < 60:
        rig.carry_out(sweep.step(rig.t_s, rig.advance()))
    began = rig.t_s
    for n in range(100):
        rig.carry_out(sweep.step(began + n, []))
    assert any(isinstance(c, TickDecided) for c in rig.said)
    taken = [c for c in rig.said if isinstance(c, StepTaken)]
    assert len(taken) == 1
    assert taken[0].look is None or taken[0].look.taken == "no"


def test_a_step_can_be_skipped_held_longer_or_taken_as_it_stands() -> None:
    rig, sweep = ToyRig(), Sweep(PLAN)

    def into_step(number: int) -> None:
        while rig.t_s < 400 and not (
            sweep.phase.name == "holding" and sweep.current and sweep.current.number == number
        ):
            rig.carry_out(sweep.step(rig.t_s, rig.advance()))

    into_step(1)
    rig.carry_out(sweep.act(rig.t_s, SkipStep()))
    into_step(2)
    for _ in range(60):
        rig.carry_out(sweep.step(rig.t_s, rig.advance()))
    rig.carry_out(sweep.act(rig.t_s, TakeNow()))
    into_step(3)
    began = rig.t_s
    rig.carry_out(sweep.act(rig.t_s, HoldLonger(50.0)))
    drive_through(sweep, rig)
    taken = {c.step: c for c in rig.said if isinstance(c, StepTaken)}
    assert taken[1].look is None
    assert taken[2].look is not None
    assert rig.t_s >= began + 50.0


def test_up_and_down_gives_two_rows_a_speed() -> None:
    steps = (Step(1, 1500.0), Step(2, 3000.0), Step(3, 3000.0, "down"), Step(4, 1500.0, "down"))
    taken = drive_through(Sweep(replace(PLAN, steps=steps)), ToyRig())
    assert [(t.step, t.set_rpm, t.direction) for t in taken] == [
        (1, 1500.0, "up"),
        (2, 3000.0, "up"),
        (3, 3000.0, "down"),
        (4, 1500.0, "down"),
    ]


def test_warm_up_runs_its_time_before_the_first_step() -> None:
    plan = replace(PLAN, warm_up=WarmUp(3000.0, for_s=90.0, until_steady=False))
    rig = ToyRig()
    drive_through(Sweep(plan), rig)
    over = [c for c in rig.said if isinstance(c, Remark) and c.kind == "warm-up over"]
    assert len(over) == 1
    assert over[0].data["lasted_s"] == pytest.approx(90.0, abs=0.2)
    assert rig.said.index(over[0]) < next(
        n for n, c in enumerate(rig.said) if isinstance(c, StepTaken)
    )


def test_warm_up_until_steady_ends_early_on_a_machine_that_does_not_drift() -> None:
    plan = replace(PLAN, warm_up=WarmUp(3000.0, for_s=1800.0, until_steady=True))
    rig = ToyRig()
    drive_through(Sweep(plan), rig, at_most_s=3000.0)
    over = next(c for c in rig.said if isinstance(c, Remark) and c.kind == "warm-up over")
    assert over.data["how"] == "steady"


def test_a_resumed_sweep_leaves_out_the_steps_that_have_their_point() -> None:
    taken = drive_through(Sweep(PLAN, done={1, 2}), ToyRig())
    assert [step.step for step in taken] == [3]


def test_without_a_drive_the_speed_is_asked_for_and_taken_when_it_is_held() -> None:
    plan = replace(PLAN, driven=False, load="none", steps=(Step(1, 1500.0), Step(2, 3000.0)))
    rig, sweep = ToyRig(slip=0.0, loaded=True, running=True), Sweep(plan)
    while not sweep.finished and rig.t_s < 300:
        asked = hands(rig)
        if asked:
            rig.set_rpm = float(asked[-1].split()[2])
        rig.carry_out(sweep.step(rig.t_s, rig.advance()))
    taken = [c for c in rig.said if isinstance(c, StepTaken)]
    assert [t.set_rpm for t in taken] == [1500.0, 3000.0]
    assert hands(rig) == ["TURN TO 1500 RPM", "TURN TO 3000 RPM"]
    assert not any(isinstance(c, RunDrive | SetShaftRpm) for c in rig.said)


def test_without_a_drive_a_speed_can_be_left_before_it_is_reached() -> None:
    plan = replace(PLAN, driven=False, load="none", steps=(Step(1, 1500.0), Step(2, 3000.0)))
    rig, sweep = ToyRig(slip=0.0, loaded=True, running=True, set_rpm=3000.0), Sweep(plan)
    while sweep.phase.name != "throttle" and rig.t_s < 60:
        rig.carry_out(sweep.step(rig.t_s, rig.advance()))
    rig.carry_out(sweep.act(rig.t_s, SkipStep()))
    taken = drive_through(sweep, rig, at_most_s=300.0)
    assert [(t.step, t.look is None) for t in taken] == [(1, True), (2, False)]
    assert hands(rig) == ["TURN TO 1500 RPM", "TURN TO 3000 RPM"]


def test_a_speed_that_is_no_longer_read_is_called_out_and_asked_for_again_when_it_is_back() -> None:
    plan = replace(PLAN, driven=False, load="none", steps=(Step(1, 1500.0),))
    sweep, said = Sweep(plan), []
    for t_s in (0.5, 1.0, 4.0):
        said += sweep.step(t_s, [Reading("shaft_rpm", t_s, 800.0)])
    said += sweep.step(8.9, [])
    assert [c.words for c in said if isinstance(c, HandsOn)] == ["TURN TO 1500 RPM"]
    silent = sweep.step(9.1, [])
    assert silent[0] == TickDecided(9.1)
    assert [c.words for c in silent if isinstance(c, HandsOn)] == ["NO SPEED READING"]
    assert sweep.step(30.0, []) == [], "said once"
    back = sweep.step(31.0, [Reading("shaft_rpm", 31.0, 900.0)])
    assert [c.words for c in back if isinstance(c, HandsOn)] == ["TURN TO 1500 RPM"]


def typed_run(values: dict[str, list[float]], plan: SweepPlan = BY_HAND) -> list[object]:
    """Answer each question with the next value of its channel, two seconds after it was asked."""
    sweep = Sweep(replace(plan, steps=(Step(1, 1500.0),)))
    said: list[object] = list(sweep.step(0.1, []))
    t_s, left = 0.1, {name: list(v) for name, v in values.items()}
    for _ in range(200):
        open_question = next((c for c in reversed(said) if isinstance(c, TypeReading)), None)
        t_s += 1.0
        readings: list[Reading] = []
        waiting = [c for c in said if isinstance(c, TypeReading)]
        answered = sum(len(values[n]) - len(left[n]) for n in values)
        if open_question is not None and len(waiting) > answered and left[open_question.channel]:
            readings = [Reading(open_question.channel, t_s, left[open_question.channel].pop(0))]
        said += sweep.step(t_s, readings)
        if sweep.finished:
            break
    return said


def test_typed_readings_are_asked_twice_and_equal_ones_count_as_steady() -> None:
    said = typed_run({"shaft_rpm": [1500, 1502], "amps": [45.2, 45.3], "volts": [13.5, 13.5]})
    asked = [(c.channel, c.again) for c in said if isinstance(c, TypeReading)]
    assert asked == [
        ("shaft_rpm", False),
        ("amps", False),
        ("volts", False),
        ("shaft_rpm", True),
        ("amps", True),
        ("volts", True),
    ]
    taken = next(c for c in said if isinstance(c, StepTaken))
    assert taken.look is not None
    assert taken.look.taken == "yes"
    assert taken.look.channels["amps"].mean == pytest.approx(45.25)


def test_typed_readings_that_disagree_are_asked_again_and_in_the_end_not_called_steady() -> None:
    drifting: dict[str, list[float]] = {
        "shaft_rpm": [1500.0] * 6,
        "amps": [40, 42, 44, 46, 48, 50],
        "volts": [13.5] * 6,
    }
    said = typed_run(drifting)
    taken = next(c for c in said if isinstance(c, StepTaken))
    assert taken.look is not None
    assert taken.look.taken == "no"
    assert taken.look.channels["amps"].u > 0.5


@pytest.mark.parametrize("plan", [BY_HAND, replace(BY_HAND, typed=frozenset({"shaft_rpm"}))])
def test_a_speed_typed_off_the_step_is_asked_for_again_and_the_test_goes_on(
    plan: SweepPlan,
) -> None:
    """1400 rpm typed twice where 1500 rpm are wanted: an ordinary slip, and nothing hangs."""
    sweep = Sweep(replace(plan, steps=(Step(1, 1500.0),)))
    typed = {"shaft_rpm": [1400.0, 1400.0, 1500.0, 1500.0], "amps": [44.1, 50.0, 50.0]}
    said: list[Command] = []
    seen, t_s = 0, 0.0
    while not sweep.finished and t_s < 300.0:
        t_s = round(t_s + 0.5, 6)
        live = {"amps": 50.0, "volts": 13.5}
        readings = [Reading(n, t_s, v) for n, v in live.items() if n not in plan.typed]
        asked = [c for c in said if isinstance(c, TypeReading)]
        if len(asked) > seen:  # as on the screens, the last question stands
            seen, channel = len(asked), asked[-1].channel
            left = typed.get(channel, [])
            readings.append(Reading(channel, t_s, left.pop(0) if left else 13.5))
        said += sweep.step(t_s, readings)
    assert sweep.finished, "no question is open, and nothing waited for ever"
    told = [c for c in said if isinstance(c, HandsOn)]
    assert [c.detail for c in told] == ["", "the speed has wandered off"]
    again = said[said.index(told[1]) :]
    assert next(c for c in again if isinstance(c, TypeReading)) == TypeReading(
        "shaft_rpm", 1500.0, again=False
    )
    (taken,) = [c for c in said if isinstance(c, StepTaken)]
    assert taken.look is not None
    assert taken.look.taken == "yes"
    assert taken.look.channels["shaft_rpm"].mean == 1500.0, "1400 rpm count no more"
    assert taken.look.channels["amps"].mean == pytest.approx(50.0, abs=0.05)


def found_turning(rig: ToyRig) -> ToyRig:
    """As after a crash: the drive runs, the load is on, the shaft turns at 2000 rpm."""
    rig.running, rig.loaded, rig.set_rpm, rig.rpm = True, True, 2000.0, 2000.0
    return rig


def test_a_shaft_found_turning_is_brought_to_rest_before_the_zero_is_read() -> None:
    rig = found_turning(ToyRig(zero_amps=0.3))
    steps = drive_through(Sweep(PLAN), rig)
    kinds = [type(command) for command in rig.said if not isinstance(command, Remark)]
    order = [HaltDrive, ZeroTaken, HoldVolts, LoadSwitch, RunDrive, SetShaftRpm]
    assert [kinds.index(kind) for kind in order] == sorted(kinds.index(kind) for kind in order)
    remarks = [command.kind for command in rig.said if isinstance(command, Remark)]
    assert remarks.index("found turning") < remarks.index("brought to rest")
    zero = next(command for command in rig.said if isinstance(command, ZeroTaken))
    assert zero.amps == pytest.approx(0.3, abs=0.1), "nothing of the current it gave while turning"
    assert [step.set_rpm for step in steps] == [1500.0, 3000.0, 6000.0]


def test_a_drive_that_does_not_bring_the_shaft_to_rest_ends_the_test_unbegun() -> None:
    class Deaf(ToyRig):
        def carry_out(self, commands: list[Command]) -> None:
            super().carry_out([c for c in commands if not isinstance(c, HaltDrive)])

    sweep, rig = Sweep(PLAN), found_turning(Deaf())
    for _ in range(900):
        rig.carry_out(sweep.step(rig.t_s, rig.advance()))
    refused = [c for c in rig.said if isinstance(c, Refused)]
    assert len(refused) == 1
    assert "did not come to rest within 60 s" in refused[0].words
    assert not any(isinstance(c, RunDrive | LoadSwitch | SetShaftRpm) for c in rig.said)


@dataclass
class OnHold(ToyRig):
    """The ammeter's last digits stay from some time on."""

    from_s: float = 0.0
    held: float | None = None
    step_of_display: float = 0.0

    def advance(self) -> list[Reading]:
        readings = super().advance()
        out = []
        for reading in readings:
            if reading.channel == "amps" and reading.value is not None:
                if self.step_of_display:
                    shown = round(reading.value / self.step_of_display) * self.step_of_display
                    reading = reading._replace(value=shown)
                if self.t_s >= self.from_s:
                    self.held = reading.value if self.held is None else self.held
                    reading = reading._replace(value=self.held)
            out.append(reading)
        return out


def cannot_see(rig: ToyRig, at_most: int = 6000) -> list[CannotSee]:
    sweep = Sweep(PLAN)
    for _ in range(at_most):
        rig.carry_out(sweep.step(rig.t_s, rig.advance()))
        if sweep.finished:
            break
    return [command for command in rig.said if isinstance(command, CannotSee)]


@pytest.mark.parametrize("from_s", [0.0, 12.0])
def test_a_meter_on_hold_ends_the_test_instead_of_failing_the_unit(from_s: float) -> None:
    (said,) = cannot_see(OnHold(from_s=from_s))
    assert "on HOLD or frozen" in said.words


def test_a_coarse_display_and_a_dead_unit_are_believed() -> None:
    assert not cannot_see(OnHold(from_s=1e9, step_of_display=1.0))

    class Dead(OnHold):
        def true_amps(self, rpm: float) -> float:
            return 0.0

        def advance(self) -> list[Reading]:
            return [
                one._replace(value=12.7) if one.channel == "volts" else one
                for one in super().advance()
            ]

    assert not cannot_see(Dead(from_s=1e9, step_of_display=1.0))


def test_a_clamp_put_on_backwards_ends_the_test_at_its_first_speed() -> None:
    class Backwards(ToyRig):
        def advance(self) -> list[Reading]:
            return [
                one._replace(value=-one.value)
                if one.channel == "amps" and one.value is not None
                else one
                for one in super().advance()
            ]

    rig = Backwards()
    (said,) = cannot_see(rig)
    assert "the wrong way round" in said.words
    assert len([command for command in rig.said if isinstance(command, StepTaken)]) == 1


@pytest.mark.parametrize("test_volts", [13.5, None])
def test_a_voltage_that_reads_nothing_is_refused_before_anything_turns(
    test_volts: float | None,
) -> None:
    sweep, said = Sweep(replace(PLAN, test_volts=test_volts)), []
    for number in range(60):
        t_s = 0.1 * number
        readings = [Reading("volts", t_s, 0.0), Reading("amps", t_s + 0.01, 0.02)]
        said += sweep.step(t_s + 0.05, readings)
    (refused,) = [c for c in said if isinstance(c, Refused)]
    assert "blown fuse" in refused.words
    assert not any(isinstance(c, RunDrive | LoadSwitch | SetShaftRpm) for c in said)
