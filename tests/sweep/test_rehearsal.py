"""Whole sweeps on the simulated machine, without wires: what a workshop would see."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from acquire.simulated_hand import SimulatedHand
from acquire.sweep.commands import HandsOn, LoadNoticed, Remark, SetBank, StepTaken
from drivers.simulated.machines import MACHINES
from profiles.drive import LoadBank, LoadHand
from tests.in_process_rig import InProcessRig
from tests.sweep.rehearsed import rehearsed

FIVE_MINUTES_S = 300.0


@pytest.mark.parametrize("unit", ["small-frame-14v-90a", "mid-frame-14v-120a"])
def test_a_healthy_unit_passes_the_quick_method_well_within_five_minutes(unit: str) -> None:
    result, judgement = rehearsed(unit=unit)
    assert judgement.verdict.outcome == "pass", judgement.verdict.reason
    assert "cold" in judgement.verdict.reason
    assert result.lasted_s < FIVE_MINUTES_S


def test_a_cold_run_is_judged_by_what_heat_will_leave_most_of_all_near_cut_in() -> None:
    _, judgement = rehearsed(unit="small-frame-28v-80a")
    low, high = judgement.verdict.points[0], judgement.verdict.points[-1]
    assert judgement.verdict.outcome in ("pass", "undecided")
    for point in (low, high):
        assert point.hot_amps is not None
        assert point.amps is not None
    assert (low.hot_amps or 0) / (low.amps or 1) < (high.hot_amps or 0) / (high.amps or 1) < 1.0


def test_steady_points_are_the_true_currents_within_their_doubt() -> None:
    simulated = InProcessRig("small-frame-14v-90a", None, 3)
    truths: dict[float, tuple[float, float]] = {}

    class Watcher:
        """Looks at the truth behind the readings at the moment each point is taken."""

        def told(self, words: HandsOn, t_s: float) -> None: ...

        def moves(self, t_s: float) -> None:
            truths[round(t_s, 1)] = (simulated.truth("amps"), simulated.truth("shaft_rpm"))

    result, _ = rehearsed(simulated=simulated, hand=Watcher())
    taken = {c.step: t for t, c in result.commands if isinstance(c, StepTaken)}
    for point in result.points.points:
        true_amps, true_rpm = truths[round(taken[point.step], 1)]
        assert point.amps is not None
        assert point.u_amps is not None
        assert point.shaft_rpm == pytest.approx(true_rpm, abs=4.0)
        assert abs(point.amps - true_amps) < 3 * point.u_amps, point.set_rpm


def test_the_set_speed_is_reached_within_five_rpm_although_the_belt_slips() -> None:
    result, _ = rehearsed()
    for point in result.points.points:
        assert point.shaft_rpm == pytest.approx(point.set_rpm, abs=6.0)


def test_a_unit_that_is_not_excited_fails_and_is_not_called_weak() -> None:
    _, judgement = rehearsed(fault="not-excited")
    assert judgement.verdict.outcome == "fail"
    assert all(abs(point.amps or 0.0) < 0.5 for point in judgement.verdict.points)


def test_an_open_diode_shows_at_low_speed_and_hides_at_the_top() -> None:
    healthy, _ = rehearsed()
    faulty, judgement = rehearsed(fault="open-diode")
    shares = [
        (bad.amps or 0.0) / (good.amps or 1.0)
        for bad, good in zip(faulty.points.points, healthy.points.points, strict=True)
    ]
    assert shares[0] < 0.75
    assert shares[-1] > 0.95
    assert judgement.verdict.outcome == "fail"


def test_a_carbon_pile_is_closed_set_and_opened_in_time_and_the_verdict_stands() -> None:
    simulated = InProcessRig("small-frame-14v-90a", None, 1)
    hand = SimulatedHand(simulated, volts=13.5)
    load = LoadHand(driver="hand", max_on_s=15.0, rest_s=45.0)
    result, judgement = rehearsed(load=load, hand=hand, simulated=simulated)
    assert result.lasted_s < FIVE_MINUTES_S
    assert len(hand.closed_s) == 4
    assert all(opened - closed <= 15.0 for closed, opened in hand.closed_s)
    closed = [opened for _closed, opened in hand.closed_s]
    again = [began for began, _opened in hand.closed_s][1:]
    assert all(later - earlier >= 44.0 for earlier, later in zip(closed, again, strict=False))
    noticed = [c.on for _t, c in result.commands if isinstance(c, LoadNoticed)]
    assert noticed == [True, False] * 4
    assert judgement.verdict.outcome == "pass", judgement.verdict.reason
    for point in result.points.points:
        assert point.volts == pytest.approx(13.5, abs=0.35)


def test_a_pile_that_is_opened_too_early_is_asked_for_again() -> None:
    simulated = InProcessRig("small-frame-14v-90a", None, 1)

    class Impatient(SimulatedHand):
        """Lets go of the pile once, four seconds after the first closing."""

        let_go = False

        def moves(self, t_s: float) -> None:
            super().moves(t_s)
            if self._since_s is not None and not self.let_go and t_s > self._since_s + 4:
                self.let_go = True
                self._open(t_s)

    hand = Impatient(simulated, volts=13.5)
    load = LoadHand(driver="hand", max_on_s=15.0, rest_s=5.0)
    result, _ = rehearsed(load=load, hand=hand, simulated=simulated, steps=(2000.0,))
    words = [c for _t, c in result.commands if isinstance(c, HandsOn)]
    assert any("before the point was taken" in one.detail for one in words)
    assert [p.usable for p in result.points.points] == [True]


@pytest.fixture
def bank() -> LoadBank:
    steps = [{"register": 0, "bit": n, "amps": a} for n, a in enumerate((5, 10, 20, 40, 40))]
    return LoadBank.model_validate(
        {"driver": "modbus", "port": "tcp://127.0.0.1:1", "steps": steps}
    )


def test_a_switched_bank_is_interpolated_to_the_test_voltage(bank: LoadBank) -> None:
    result, judgement = rehearsed(load=bank)
    held, _ = rehearsed()
    assert judgement.verdict.outcome == "pass", judgement.verdict.reason
    for point, with_good_load in zip(result.points.points, held.points.points, strict=True):
        assert point.volts == pytest.approx(13.5, abs=0.31)
        assert point.amps == pytest.approx(with_good_load.amps, rel=0.03)
    assert any(isinstance(c, SetBank) for _t, c in result.commands)


def test_the_same_seed_gives_the_same_points_and_another_seed_others() -> None:
    first, again, other = (rehearsed(seed=seed)[0].points.points for seed in (5, 5, 6))
    assert first == again
    assert first != other


def test_eight_steps_warm_and_up_and_down_come_out_whole(
    record_property: Callable[[str, object], None],
) -> None:
    result, judgement = rehearsed(method="fine")
    record_property("readings", len(result.readings))
    assert len(result.points.points) == 16
    assert judgement.verdict.outcome == "pass", judgement.verdict.reason
    judged = [point for point in judgement.verdict.points if point.limit_amps is not None]
    assert [len(point.steps) for point in judged] == [2, 2, 2, 2], "up and down count as one speed"


def test_every_simulated_machine_has_a_rated_curve_of_its_name() -> None:
    from profiles.catalogue import entries

    assert set(MACHINES) <= {entry.name for entry in entries("alternators")}


def test_a_unit_that_gives_nothing_is_asked_about_once_after_the_second_step() -> None:
    result, _ = rehearsed(fault="not-excited")
    asked = [t for t, c in result.commands if isinstance(c, HandsOn) and "NOT EXCITED" in c.words]
    taken = [t for t, c in result.commands if isinstance(c, StepTaken)]
    assert len(asked) == 1
    assert taken[1] <= asked[0] < taken[2]
    told = [c.words for _t, c in result.commands if isinstance(c, Remark) and c.words]
    assert sum("Not excited, or dead?" in words for words in told) == 1, "a note on the page"
    healthy, _ = rehearsed()
    assert not any("NOT EXCITED" in c.words for _t, c in healthy.commands if isinstance(c, HandsOn))


def test_a_unit_that_feeds_the_bus_is_not_asked_whether_it_is_excited() -> None:
    result, _ = rehearsed(fault="regulator-low")
    asked = [c.words for _t, c in result.commands if isinstance(c, HandsOn)]
    assert asked.count("HARDLY A CURRENT: REGULATOR LOW, OR AMMETER?") == 1
    assert not any("NOT EXCITED" in words for words in asked)
    told = [c.words for _t, c in result.commands if isinstance(c, Remark) and c.words]
    assert sum("it is excited. The regulator is low" in words for words in told) == 1
