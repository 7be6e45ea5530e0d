"""The zero of the current is read with the field's feed off; then hands switch it on."""

from __future__ import annotations

from dataclasses import replace

import pytest

from acquire.cautions import OFF_FIRST, wiring_for
from acquire.sentences import now_doing
from acquire.sweep.commands import HandsOn, LoadSwitch, RunDrive, ZeroTaken
from acquire.sweep.feeding import FEED_S, Feeding
from acquire.sweep.plan import fed_by_hand, plan_sweep
from acquire.sweep.sweep import Sweep
from profiles.catalogue import load_method, load_rated, load_rig
from profiles.drive import FieldHand
from tests.sweep.test_sweep import PLAN
from tests.sweep.toy_rig import ToyRig

UNIT = load_rated("small-frame-14v-90a").profile.rated_curve()
BENCH = load_rig("real-bench-example").profile


def begun(feed: str) -> tuple[ToyRig, dict[str, float], list[str]]:
    """Until the drive may run: when the zero, the word to the hands and the drive came [s]."""
    rig, sweep = ToyRig(zero_amps=-3.2), Sweep(replace(PLAN, fed_by_hand=feed))
    when: dict[str, float] = {}
    sentences: list[str] = []
    while "RunDrive" not in when and rig.t_s < 60.0:
        commands = sweep.step(rig.t_s, rig.advance())
        rig.carry_out(commands)
        for command in commands:
            if isinstance(command, ZeroTaken | HandsOn | LoadSwitch | RunDrive):
                when.setdefault(type(command).__name__, rig.t_s)
        if isinstance(sweep.phase, Feeding):
            sentences.append(now_doing(sweep, rig.t_s))
    return rig, when, sentences


def test_after_the_zero_hands_switch_the_ignition_on_and_then_it_turns_by_itself() -> None:
    rig, when, sentences = begun("ignition")
    (told,) = [c for c in rig.said if isinstance(c, HandsOn)]
    assert told.words == "IGNITION ON"
    assert when["ZeroTaken"] == when["HandsOn"]
    assert when["LoadSwitch"] - when["HandsOn"] == pytest.approx(FEED_S, abs=0.2)
    assert when["RunDrive"] > when["LoadSwitch"], "nothing is switched and nothing turns before"
    assert "Switch the ignition on; it turns in 10 s." in sentences[0]
    assert "it turns in 1 s." in sentences[-1]


def test_a_unit_that_nobody_feeds_by_hand_turns_at_once() -> None:
    rig, when, sentences = begun("")
    assert not any(isinstance(c, HandsOn) for c in rig.said)
    assert when["RunDrive"] - when["ZeroTaken"] < 1.0
    assert not sentences


def test_who_feeds_the_field_is_known_from_unit_and_rig() -> None:
    assert "ignition" in UNIT.needs
    assert fed_by_hand(BENCH, UNIT) == "ignition"
    assert fed_by_hand(BENCH, None) == ""
    by_hand = BENCH.model_copy(update={"field": FieldHand(driver="hand")})
    assert fed_by_hand(by_hand, replace(UNIT, needs=())) == "field"
    for rig in ("simulated", "simulated-aboard", "by-hand"):
        assert fed_by_hand(load_rig(rig).profile, UNIT) == "", "in software, or without a zero"
    plan = plan_sweep(rig=BENCH, method=load_method("quick").profile, rated=UNIT)
    assert plan.fed_by_hand == "ignition"


def test_the_wiring_list_says_that_the_feed_stays_off_at_first() -> None:
    lines = wiring_for(UNIT, BENCH)
    assert f"ignition: {OFF_FIRST}" in lines
    assert "ignition" not in lines
    assert "lamp on D+" in lines
    assert "ignition" in wiring_for(UNIT, load_rig("simulated").profile)
    by_hand = BENCH.model_copy(update={"field": FieldHand(driver="hand")})
    assert f"field feed: {OFF_FIRST}" in wiring_for(None, by_hand)
