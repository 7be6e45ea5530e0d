"""Efficiency: the definition, its doubt, and the minimum efficiencies that the EU printed."""

from __future__ import annotations

import math

import pytest
from uncertainties import ufloat

from acquire.curve.points import Estimate
from acquire.efficiency_of_run import efficiency_of_run
from acquire.findings.seen import ChannelSeen, Seen, StepSeen
from acquire.judge.efficiency import (
    FUELS,
    WEIGHTS,
    Efficiency,
    efficiency,
    least_of,
    weighted,
)
from acquire.judge.steady_point import SteadyPoint
from profiles.catalogue import load_method, load_rig

PRINTED_PERCENT = {
    "petrol": 73.8, "petrol turbo": 73.4, "diesel": 74.2, "lpg": 74.6, "lpg turbo": 74.1,
    "cng": 76.3, "cng turbo": 75.7,
}  # fmt: skip
"""Decision (EU) 2016/588, Art. 2(1)(c), as amended by (EU) 2020/759 (petrol: or E85)."""


def test_the_seven_minimum_efficiencies_of_the_decision_come_out() -> None:
    assert set(FUELS) == set(PRINTED_PERCENT)
    found = {fuel: 100.0 * least_of(fuel) for fuel in FUELS}
    assert found == pytest.approx(PRINTED_PERCENT)


def test_efficiency_and_its_doubt_agree_with_an_independent_propagation() -> None:
    amps, volts = ufloat(60.0, 0.4), ufloat(14.3, 0.02)
    torque, rpm = ufloat(3.9, 0.03), ufloat(3000.0, 1.5)
    expected = amps * volts / (2 * math.pi * torque * rpm / 60)
    found = efficiency(
        amps=Estimate(60.0, 0.4), volts=Estimate(14.3, 0.02), torque_nm=Estimate(3.9, 0.03),
        shaft_rpm=Estimate(3000.0, 1.5),
    )  # fmt: skip
    assert found.value == pytest.approx(expected.nominal_value, rel=1e-12)
    assert found.u == pytest.approx(expected.std_dev, rel=1e-9)


def test_the_weighted_figure_needs_all_four_speeds() -> None:
    points = [Efficiency(rpm, 0.70 + rpm / 1e5, 0.01) for rpm in WEIGHTS]
    whole = weighted(points)
    assert whole is not None
    assert whole.value == pytest.approx(0.25 * 0.718 + 0.40 * 0.73 + 0.25 * 0.76 + 0.10 * 0.80)
    assert whole.u == pytest.approx(0.01), "common instruments: nothing averages out"
    assert weighted(points[:3]) is None
    assert sum(WEIGHTS.values()) == pytest.approx(1.0)


def test_the_shipped_method_sweeps_the_four_speeds_at_the_decisions_voltage() -> None:
    method = load_method("efficiency-12v").profile
    assert method.sweep.rpm == tuple(WEIGHTS)
    assert method.test.volts == 14.3


def test_a_run_with_torque_says_its_efficiency_and_one_without_says_nothing() -> None:
    rig = load_rig("simulated").profile
    points = [
        SteadyPoint(step=1, set_rpm=3000.0, shaft_rpm=3000.0, amps=60.0, u_amps=0.4, volts=14.3)
    ]
    torque = {"torque_nm": ChannelSeen(3.9, 0.03)}
    seen = Seen(steps={1: StepSeen(step=1, set_rpm=3000.0, channels=torque)})
    found = efficiency_of_run(points, seen, rig)
    assert found is not None
    assert found["points"][0]["efficiency"] == pytest.approx(0.7003, abs=1e-3)
    assert found["weighted"] is None
    assert efficiency_of_run(points, Seen(), rig) is None
    assert efficiency_of_run(points, None, rig) is None
