"""The live lines of a plain run count the seconds: of a pile that cools, and of one that is on."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import pytest

from acquire.bench import Bench, BenchView
from acquire.cli.live_text import live_block
from acquire.sweep.commands import HandsOn
from acquire.sweep.feeding import FEED_S, Feeding
from acquire.sweep.hand_load import HandLoaded
from acquire.sweep.learned import Learned
from acquire.sweep.phases import Phase
from acquire.sweep.plan import HandLoad, Step
from acquire.sweep.ramp import Ramp
from acquire.sweep.sweep import Sweep
from profiles.catalogue import load_rig
from tests.sweep.test_sweep import PLAN

HAND = HandLoad(max_on_s=15.0, rest_s=40.0)
PILE = replace(PLAN, load="hand", hand_load=HAND)
RIG = load_rig("simulated-pile").profile


def block(phase: Phase, view: BenchView, now_s: float) -> list[str]:
    sweep = Sweep(PILE)
    sweep.phase = phase
    bench = SimpleNamespace(sweep=sweep, view=view, now_s=lambda: now_s, quiet=lambda: ("", 0.0))
    return live_block(cast("Bench", bench), RIG).splitlines()


def test_a_pile_that_cools_is_counted_down_and_then_the_voltage_is_waited_for() -> None:
    learned = Learned(load_off_s=100.0)
    step = Step(2, 2000.0)
    phase = HandLoaded(step, plan=PILE, hand=HAND, ramp=Ramp(400.0), learned=learned)
    (said,) = [c for c in phase.begin(102.0) if isinstance(c, HandsOn)]
    view = BenchView(hands=said)
    assert block(phase, view, 102.0)[0] == "  LET THE PILE COOL  38 s more"
    assert block(phase, view, 127.6)[0] == "  LET THE PILE COOL  13 s more"
    assert block(phase, view, 141.0)[0].startswith("  KEEP THE PILE OPEN  until it stands above")


@pytest.mark.parametrize(
    ("now_s", "line"),
    [(207.0, "  = load on 7 of 15 s"), (211.2, "  ! load on 11 of 15 s")],
)
def test_the_seconds_a_pile_has_been_on_are_shown(now_s: float, line: str) -> None:
    step = Step(1, 1500.0)
    phase = HandLoaded(step, plan=PILE, hand=HAND, ramp=Ramp(400.0), learned=Learned())
    phase.stage = "loading"
    view = BenchView(hands=HandsOn("MORE LOAD", "0.30 V too high"), load_on=True)
    view.load_since_s = 200.0
    lines = block(phase, view, now_s)
    assert lines[0] == "  MORE LOAD  0.30 V too high"
    assert line in lines
    view.load_on = False
    assert not any("load on" in one for one in block(phase, view, now_s))


def test_the_turn_after_the_ignition_is_counted_down() -> None:
    phase = Feeding("ignition")
    said = phase.begin(10.0)[0]
    assert isinstance(said, HandsOn)
    lines = block(phase, BenchView(hands=said), 10.0 + FEED_S - 2.5)
    assert lines[0] == "  IGNITION ON  the zero is read; it turns in 3 s"
