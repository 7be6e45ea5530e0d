"""What is said before it turns: a drive too weak, a voltage the rig may not see, wiring."""

from __future__ import annotations

import re

import pytest

from acquire.cautions import ISOLATED, wiring_for
from acquire.drive_power import stall_words
from acquire.sweep.plan import PlanError, plan_sweep
from profiles.alternator import RatedCurve
from profiles.catalogue import load_method, load_rated, load_rig
from profiles.rig import Rig

QUICK = load_method("quick").profile


def curve(name: str) -> RatedCurve:
    rated = load_rated(name).profile.rated_curve()
    assert rated is not None
    return rated


def weak(kw: float) -> Rig:
    rig = load_rig("simulated").profile
    assert rig.drive is not None
    return rig.model_copy(update={"drive": rig.drive.model_copy(update={"kw": kw})})


def test_steps_that_ask_more_than_the_motor_gives_are_named_before_it_turns() -> None:
    """90 A at 13.5 V and the 55 % of `shaft_kw` are 2.2 kW; 45 A are 1.1 kW."""
    rated = curve("small-frame-14v-90a")
    rig = weak(1.6)
    said = stall_words(rig, plan_sweep(rig=rig, method=QUICK, rated=rated), rated)
    assert "1.6 kW" in said
    assert "2.2 kW" in said
    assert re.search(r"at 3000, 6000 rpm", said), said


def test_a_motor_that_is_strong_enough_or_not_stated_is_not_doubted() -> None:
    rated = curve("small-frame-14v-90a")
    for rig in (weak(3.0), load_rig("by-hand").profile):
        assert stall_words(rig, plan_sweep(rig=rig, method=QUICK, rated=rated), rated) == ""


def test_a_test_voltage_that_the_rig_may_not_see_is_refused_at_the_desk() -> None:
    with pytest.raises(PlanError, match=r"27 V.*16 V"):
        plan_sweep(
            rig=load_rig("simulated").profile, method=QUICK, rated=curve("small-frame-28v-80a")
        )


def test_a_unit_with_isolated_earth_has_its_return_cable_on_the_wiring_list() -> None:
    assert ISOLATED in wiring_for(curve("slow-frame-14v-150a"))
    assert ISOLATED not in wiring_for(curve("small-frame-14v-90a"))
    assert wiring_for(None)


def test_pulley_nut_and_belt_guard_are_ticked_each_for_every_unit() -> None:
    for rated in (None, load_rated("small-frame-14v-90a").profile.rated_curve()):
        assert wiring_for(rated)[:2] == ("pulley nut tight", "belt guard closed")
