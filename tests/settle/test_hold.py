"""A hold: every channel that must hold still, and nothing but reading times."""

from __future__ import annotations

import math
import random

import pytest

from acquire.settle.hold import ChannelPlan, Hold, HoldLook, HoldPlan

AMPS = ChannelPlan(0.005, 0.1, 0.01)
RPM = ChannelPlan(0.003, 5.0, 0.1)
VOLTS = ChannelPlan(0.003, 0.05, 0.001)
PLAN = HoldPlan(began_s=100.0, set_rpm=3000.0, channels={"amps": AMPS, "shaft_rpm": RPM})


def readings(seconds: float, rate: float = 10.0, seed: int = 1) -> list[tuple[str, float, float]]:
    """A lag of 2 s to 80 A at 3000 rpm, in order of time."""
    rng = random.Random(seed)
    out = []
    for k in range(int(seconds * rate)):
        t_s = 100.0 + (k + 1) / rate
        amps = 80.0 * (1.0 - 0.4 * math.exp(-(t_s - 100.0) / 2.0))
        out.append(("amps", t_s, round(amps + rng.gauss(0.0, 0.08), 2)))
        out.append(("shaft_rpm", t_s + 0.01, 3000.0 + rng.gauss(0.0, 1.0)))
    return out


def first_taken(hold: Hold, stream: list[tuple[str, float, float]]) -> HoldLook | None:
    for channel, t_s, value in stream:
        look = hold.push(channel, t_s, value)
        if look is not None and look.taken is not None:
            return look
    return None


def test_a_lag_settles_once_it_is_over_and_the_value_holds_the_truth() -> None:
    look = first_taken(Hold(PLAN), readings(60.0))
    assert look is not None
    assert look.taken == "yes"
    assert 115.0 <= look.t_s <= 140.0
    amps = look.channels["amps"]
    assert abs(amps.mean - 80.0) <= 3.0 * amps.u
    assert amps.state == "still"


def test_a_channel_that_must_hold_still_and_does_not_holds_the_step_up() -> None:
    hold = Hold(PLAN)
    look = None
    for channel, t_s, value in readings(60.0):
        drifting = value + 4.0 * (t_s - 100.0) if channel == "shaft_rpm" else value
        look = hold.push(channel, t_s, drifting) or look
    assert look is not None
    assert look.taken is None
    assert look.waiting_for == "shaft_rpm"
    assert look.channels["shaft_rpm"].state == "rising"


def test_a_silent_channel_holds_the_step_up() -> None:
    plan = HoldPlan(100.0, 3000.0, {"amps": AMPS, "shaft_rpm": RPM, "volts": VOLTS})
    hold = Hold(plan)
    assert first_taken(hold, readings(60.0)) is None
    assert hold.give_up(160.5).waiting_for == "volts"


def test_when_time_is_up_the_uncertainty_holds_the_drift() -> None:
    hold = Hold(PLAN)
    for k in range(300):
        t_s = 100.0 + (k + 1) / 10.0
        hold.push("amps", t_s, 50.0 + 0.3 * (t_s - 100.0))
        hold.push("shaft_rpm", t_s, 3000.0)
    look = hold.give_up(130.2)
    amps = look.channels["amps"]
    assert look.taken == "no"
    assert amps.drift == pytest.approx(3.0, rel=0.01)
    assert amps.u >= 3.0 / math.sqrt(3.0)


def test_channels_out_of_step_by_less_than_a_quarter_second_give_the_same_looks() -> None:
    stream = readings(40.0)
    late = sorted(stream, key=lambda r: r[1] + (0.12 if r[0] == "amps" else 0.0))
    assert late != stream
    assert first_taken(Hold(PLAN), stream) == first_taken(Hold(PLAN), late)
