"""Whole sweeps with a switched bank: few switchings, no point without a reason, none made up."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import pytest

from acquire.sweep.bank_load import BankLoaded
from acquire.sweep.commands import Remark, SetBank, StepTaken, TakeNow
from acquire.sweep.intake import Value
from acquire.sweep.learned import Learned
from acquire.sweep.plan import PlanError, plan_sweep
from acquire.sweep.ramp import Ramp
from profiles.catalogue import load_method, load_rated, load_rig
from profiles.drive import AnyLoad, LoadBank, LoadHand
from tests.in_process_rig import DEFAULT_EVERY_S, InProcessRig
from tests.rehearsal import Rehearsal, rehearse
from tests.sweep.rehearsed import rehearsed

UNIT = "small-frame-14v-90a"
FINE = (1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0)
COARSE = (20.0, 40.0, 40.0)
SMALL = (5.0, 10.0, 20.0)
BIG_STEPS = (30.0, 30.0, 30.0)


def bank_of(steps: tuple[float, ...]) -> LoadBank:
    tables = [{"register": 0, "bit": n, "amps": amps} for n, amps in enumerate(steps)]
    return LoadBank.model_validate(
        {"driver": "modbus", "port": "tcp://127.0.0.1:1", "steps": tables}
    )


@cache
def swept(
    steps: tuple[float, ...], fault: str | None = None, *, rated: bool = True, volts_s: float = 0.1
) -> Rehearsal:
    simulated = InProcessRig(UNIT, fault, 1, every_s={**DEFAULT_EVERY_S, "volts": volts_s})
    simulated.set_bank(dict(enumerate(steps)))
    if rated:
        return rehearsed(load=bank_of(steps), simulated=simulated)[0]
    rig = load_rig("simulated").profile.model_copy(update={"load": bank_of(steps)})
    method = load_method("quick").profile
    method = method.model_copy(update={"test": method.test.model_copy(update={"volts": 13.5})})
    plan = plan_sweep(rig=rig, method=method, rated=None, steps=(1500, 2000, 3000, 6000))
    return rehearse(plan, rig, simulated)


def settings(result: Rehearsal) -> Iterator[tuple[bool, ...]]:
    return (c.closed for _t, c in result.commands if isinstance(c, SetBank))


def limits(result: Rehearsal) -> list[str]:
    return [c.words for _t, c in result.commands if isinstance(c, Remark) and c.words]


@pytest.fixture(scope="module")
def held() -> dict[float, float]:
    """What the same unit gives on a load that holds the test voltage [A]."""
    return {p.set_rpm: p.amps or 0.0 for p in rehearsed()[0].points.points}


@pytest.mark.parametrize("rated", [True, False])
@pytest.mark.parametrize("steps", [FINE, (5.0, 10.0, 20.0, 40.0, 40.0), (10.0,) * 12])
def test_a_bank_that_suits_the_unit_reads_every_speed_in_a_dozen_switchings(
    steps: tuple[float, ...], rated: bool, held: dict[float, float]
) -> None:
    result = swept(steps, rated=rated)
    for point in result.points.points:
        assert point.amps == pytest.approx(held[point.set_rpm], rel=0.05)
        assert point.volts == pytest.approx(13.5, abs=0.31)
    assert len(list(settings(result))) <= 12
    assert limits(result) == []


@pytest.mark.parametrize("steps", [COARSE, BIG_STEPS])
@pytest.mark.parametrize("fault", [None, "open-diode"])
def test_a_coarse_bank_gives_no_current_that_the_unit_cannot_give(
    steps: tuple[float, ...], fault: str | None
) -> None:
    result = swept(steps, fault)
    truth = {p.set_rpm: p.amps or 0.0 for p in rehearsed(fault=fault)[0].points.points}
    for point in result.points.points:
        assert point.amps is not None
        assert point.u_amps is not None
        assert point.amps < 1.05 * truth[point.set_rpm] + 1.0
        warmer = 0.03 * truth[point.set_rpm]  # the bank takes its time, and the unit warms
        assert abs(point.amps - truth[point.set_rpm]) < 3 * point.u_amps + warmer, point.set_rpm


@pytest.mark.parametrize("steps", [FINE, COARSE, SMALL, BIG_STEPS])
@pytest.mark.parametrize("fault", [None, "not-excited"])
def test_one_step_at_least_stays_closed_while_the_unit_turns(
    steps: tuple[float, ...], fault: str | None
) -> None:
    result = swept(steps, fault)
    assert all(any(closed) for closed in settings(result))
    assert all(point.usable for point in result.points.points)


def test_a_bank_that_is_too_small_says_so_with_what_it_leaves() -> None:
    result = swept(SMALL)
    said = limits(result)
    assert len(said) == 4
    assert "too small at 6000 rpm: with all its steps closed (35 A)" in said[-1]
    assert "not 13.5 V" in said[-1]
    assert "larger bank" in said[-1]


def test_a_smallest_step_that_is_too_large_says_so_and_stays_closed() -> None:
    said = [words for words in limits(swept(BIG_STEPS, "not-excited")) if "step" in words]
    assert len(said) == 4
    assert "smallest step (30 A) takes more than the unit gives at 1500 rpm" in said[0]
    assert "stays closed" in said[0]


def test_a_slow_voltmeter_is_waited_for() -> None:
    result = swept(FINE, volts_s=3.0)
    assert [point.usable for point in result.points.points] == [True] * 4


def test_a_voltage_that_does_not_come_ends_the_step_with_a_reason() -> None:
    result = swept(FINE, volts_s=40.0)
    missed = [c for _t, c in result.commands if isinstance(c, StepTaken) and c.look is None]
    assert missed
    assert "no volts were read for 10 s" in limits(result)[0]


@pytest.mark.parametrize("load", [bank_of(FINE), LoadHand(driver="hand")])
@pytest.mark.parametrize("missing", ["volts", "amps"])
def test_a_load_that_is_set_by_readings_is_refused_where_nothing_reads_them(
    load: AnyLoad, missing: str
) -> None:
    from profiles.instrument import HandChannel

    rig = load_rig("simulated").profile
    typed = HandChannel(driver="hand")
    channels = {n: typed if n == missing else c for n, c in rig.channels.items()}
    rig = rig.model_copy(update={"load": load, "channels": channels})
    with pytest.raises(PlanError, match=f"set by {missing}"):
        plan_sweep(
            rig=rig,
            method=load_method("quick").profile,
            rated=load_rated(UNIT).profile.rated_curve(),
        )


def test_a_bank_without_a_test_voltage_is_refused_with_what_to_give() -> None:
    rig = load_rig("simulated").profile.model_copy(update={"load": bank_of(FINE)})
    with pytest.raises(PlanError, match="no test voltage") as refused:
        plan_sweep(rig=rig, method=load_method("quick").profile, rated=None, steps=(2000.0,))
    assert "--rated" in str(refused.value)


def test_take_now_ends_the_step_with_what_is_held_and_before_that_changes_nothing() -> None:
    rig = load_rig("simulated").profile.model_copy(update={"load": bank_of(FINE)})
    rated = load_rated(UNIT).profile.rated_curve()
    plan = plan_sweep(rig=rig, method=load_method("quick").profile, rated=rated)
    step = plan.steps[0]
    phase = BankLoaded(step, plan=plan, ramp=Ramp(400.0), learned=Learned())
    (first,) = phase.begin(0.0)
    assert isinstance(first, SetBank)
    assert phase.act(0.1, TakeNow()) == []
    unit_amps = phase.amps_closed / 0.95
    for n in range(1, 80):
        t_s = n / 10
        for channel, value in (("shaft_rpm", step.set_rpm), ("amps", unit_amps), ("volts", 13.9)):
            phase.take(Value(channel, t_s, value))
        if t_s >= phase.due_s:
            phase.pass_time(t_s)
    assert phase.holds
    (taken,) = phase.act(8.0, TakeNow())
    assert isinstance(taken, StepTaken)
    assert taken.look is not None
    assert taken.look.taken == "no"
    assert phase.over
