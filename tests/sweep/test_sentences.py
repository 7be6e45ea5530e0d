"""The top line of a whole sweep: there is one at every moment, and what it tells is so."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from acquire.hands_at_stop import Hand
from acquire.sentences import holding_sentence, now_doing
from acquire.settle.looks import ChannelLook, HoldLook
from acquire.simulated_hand import SimulatedHand
from acquire.sweep.commands import HandsOn
from acquire.sweep.plan import plan_sweep
from acquire.sweep.sweep import Sweep
from profiles.catalogue import load_method, load_rated, load_rig
from profiles.drive import LoadHand
from tests.in_process_rig import InProcessRig
from tests.rehearsal import TICK_S, tell_rig

UNIT = "small-frame-14v-90a"


def told(rig: str, *, hand: bool = False, steps: tuple[float, ...]) -> Iterator[tuple[float, str]]:
    """(time, top line) at every tenth of a second of a sweep."""
    profile = load_rig(rig).profile
    simulated = InProcessRig(UNIT, None, 1)
    hands: Hand | None = None
    if hand:
        load = LoadHand(driver="hand", max_on_s=15.0, rest_s=20.0)
        profile = profile.model_copy(update={"load": load})
        hands = SimulatedHand(simulated, volts=13.5)
    rated = load_rated(UNIT).profile.rated_curve()
    plan = plan_sweep(rig=profile, method=load_method("quick").profile, rated=rated, steps=steps)
    sweep = Sweep(plan)
    while not sweep.finished:
        readings = simulated.advance(TICK_S)
        now_s = simulated.clock.monotonic_s()
        if hands is not None:
            hands.moves(now_s)
        for command in sweep.step(now_s, readings):
            if isinstance(command, HandsOn) and hands is not None:
                hands.told(command, now_s)
            tell_rig(command, simulated)
        yield now_s, now_doing(sweep, now_s)


@pytest.mark.parametrize("hand", [False, True], ids=["load holds", "carbon pile"])
def test_there_is_a_sentence_at_every_moment_of_a_sweep(hand: bool) -> None:
    lines = [line for _, line in told("simulated", hand=hand, steps=(1500.0, 3000.0))]
    assert all(len(line.split()) >= 3 for line in lines)
    assert not any("about 0 s" in line.lower() for line in lines)
    assert any(line.startswith("Turning to 3000 rpm. About ") for line in lines)
    if hand:
        for words in ("the pile stays open", "Close the pile", "Set it to 13.5 V", "Holding at",
                      "Open the pile"):  # fmt: skip
            assert any(words in line for line in lines), words


def test_any_moment_is_said_only_shortly_before_the_point_is_taken() -> None:
    """Under noise two seconds may still pass; it was ten with "about 0 s more"."""
    lines = list(told("simulated", steps=(1500.0, 2000.0, 3000.0, 6000.0)))
    turns = [t for t, line in lines if not line.startswith("Holding")] + [lines[-1][0]]
    soon = [t for t, line in lines if line.endswith("any moment.")]
    assert soon
    for t_s in soon:
        assert min(turn for turn in turns if turn > t_s) - t_s <= 2.5


def test_what_is_held_longer_is_not_called_taken() -> None:
    still = ChannelLook("still", 0.0, 0.1, 0.3, 63.1, 0.1, 20.0, 10.0, 100, 0, False)
    taken = HoldLook(10.0, {"amps": still}, "yes", 0.0, "")
    assert holding_sentence(2000.0, taken) == "Holding at 2000 rpm. All still: point taken."
    assert holding_sentence(2000.0, taken, at_least_s=21.3) == (
        "Holding at 2000 rpm. All still; held 22 s longer, as asked."
    )


def test_a_channel_without_any_reading_is_named() -> None:
    nothing = HoldLook(10.0, {}, None, 4.2, "shaft_rpm")
    assert holding_sentence(2000.0, nothing) == (
        "Holding at 2000 rpm. No reading of the shaft speed yet; about 5 s more."
    )
