"""A load moved by hand: when it counts as closed, and what the hand is told."""

from __future__ import annotations

import pytest

from acquire.simulated_hand import SimulatedHand
from acquire.sweep.commands import HandsOn, LoadNoticed
from acquire.sweep.hand_guide import RIGHT_FOR_S, SAY_EVERY_S, HandGuide
from acquire.sweep.hand_load import IS_IT_OPEN, HandLoaded
from acquire.sweep.intake import Value
from acquire.sweep.load_watch import LoadWatch, Moved
from acquire.sweep.plan import plan_sweep
from acquire.sweep.sweep import NO_OUTPUT
from drivers.readings import Reading
from profiles.catalogue import load_method, load_rated, load_rig
from profiles.drive import LoadHand
from tests.in_process_rig import InProcessRig
from tests.rehearsal import Rehearsal, rehearse


def seen(watch: LoadWatch, volts: list[float]) -> list[Moved]:
    """A reading each tenth of a second."""
    moves = [
        watch.see(Value("volts", n / 10, value), may_close=True, may_open=True)
        for n, value in enumerate(volts)
    ]
    return [move for move in moves if move is not None]


def test_without_a_test_voltage_a_pile_is_noticed_by_a_share_of_the_voltage_itself() -> None:
    """0.15 V is a step of the light in a 24 V system, and a load in a 12 V one."""
    assert seen(LoadWatch(None, 0.0), [28.0] * 5 + [27.85] * 5) == []
    assert seen(LoadWatch(None, 0.0), [28.0] * 5 + [27.7] * 5 + [28.0] * 5) == ["closed", "opened"]
    assert seen(LoadWatch(None, 0.0), [14.0] * 5 + [13.85] * 5 + [14.0] * 5) == ["closed", "opened"]


def test_what_may_not_be_just_now_is_not_noticed() -> None:
    watch = LoadWatch(13.5, 60.0)
    volts = [Value("volts", n / 10, 14.2 if n < 5 else 13.5) for n in range(10)]
    assert not any(watch.see(one, may_close=False, may_open=True) for one in volts)
    assert watch.closed_s is None


def test_the_hand_is_told_which_way_once_a_second_and_when_to_rest() -> None:
    guide = HandGuide(13.5, 0.3)
    guide.asked(0.0)
    assert guide.towards(0.5, 14.2) == []
    (told,) = guide.towards(SAY_EVERY_S, 14.2)
    assert (told.words, told.detail) == ("MORE LOAD", "0.70 V too high")
    (told,) = guide.towards(2 * SAY_EVERY_S, 13.0)
    assert (told.words, told.detail) == ("LESS LOAD", "0.50 V too low")
    assert not guide.stands_right(3.0, 13.6)
    assert guide.stands_right(3.1 + RIGHT_FOR_S, 13.6)
    (told,) = guide.keep(5.0, 13.72)
    assert (told.words, told.detail) == ("MORE LOAD", "0.22 V, a little")
    assert not guide.wandered(13.9)
    assert guide.wandered(13.95)


PILE = LoadHand(driver="hand", max_on_s=15.0, rest_s=20.0)


class Watched(SimulatedHand):
    """A hand that remembers when it was told what [s]."""

    def __init__(self, rig: InProcessRig, *, closes_after_s: float = 0.8) -> None:
        super().__init__(rig, volts=13.5, reaction_s=closes_after_s)
        self.heard: list[tuple[float, str]] = []

    def told(self, words: HandsOn, t_s: float) -> None:
        self.heard.append((t_s, words.words))
        super().told(words, t_s)

    def when(self, words: str) -> list[float]:
        return [t_s for t_s, said in self.heard if said == words]


class Unplugged(InProcessRig):
    """The ammeter's plug comes off when the pile is to be closed."""

    pile_hand: Watched | None = None

    def advance(self, dt_s: float) -> list[Reading]:  # type: ignore[override]
        readings = super().advance(dt_s)
        off = self.pile_hand is not None and bool(self.pile_hand.when("CLOSE THE PILE"))
        return [one for one in readings if not (off and one.channel == "amps")]


def piled(
    simulated: InProcessRig, hand: Watched, *, steps: tuple[float, ...], at_most_s: float
) -> Rehearsal:
    """Some speeds on a rig with a drive and a carbon pile."""
    rig = load_rig("simulated").profile.model_copy(update={"load": PILE})
    method, rated = load_method("quick").profile, load_rated("small-frame-14v-90a").profile
    plan = plan_sweep(rig=rig, method=method, rated=rated.rated_curve(), steps=steps)
    return rehearse(plan, rig, simulated, at_most_s=at_most_s, hand=hand)


def noticed(result: Rehearsal) -> list[bool]:
    return [c.on for _t, c in result.commands if isinstance(c, LoadNoticed)]


def test_on_a_unit_that_gives_nothing_the_pile_is_soon_opened_and_the_second_speed_is_tried() -> (
    None
):
    simulated = InProcessRig("small-frame-14v-90a", "not-excited", 1)
    hand = Watched(simulated)
    result = piled(simulated, hand, steps=(1500.0, 3000.0), at_most_s=400.0)
    assert result.sweep.finished
    assert noticed(result) == [True, False] * 2, "what cannot be seen to open is taken for open"
    assert all(opened - closed < 12.0 for closed, opened in hand.closed_s), (
        "not left on for nothing"
    )
    assert len(hand.when("OPEN THE PILE")) == len(hand.when(IS_IT_OPEN)) == 2
    assert len(hand.when(NO_OUTPUT)) == 1
    assert hand.when(NO_OUTPUT)[0] > hand.when("OPEN THE PILE")[1]
    points = result.points.points
    assert [point.usable for point in points] == [True, True]
    assert all(abs(point.amps or 0.0) < 0.5 for point in points)
    assert {point.settled for point in points} == {"no"}


def test_where_the_current_is_not_read_the_time_of_the_pile_counts_from_the_word_to_close_it() -> (
    None
):
    simulated = Unplugged("small-frame-14v-90a", None, 1)
    hand = simulated.pile_hand = Watched(simulated)
    hand.first_amps = 5.0  # so little that the voltage does not show it
    result = piled(simulated, hand, steps=(2000.0,), at_most_s=90.0)
    (asked_s,) = hand.when("CLOSE THE PILE")
    on = [t_s for t_s, c in result.commands if isinstance(c, LoadNoticed) and c.on]
    assert on[0] - asked_s == pytest.approx(2.0, abs=0.3)
    assert hand.when("OPEN THE PILE")[0] - asked_s == pytest.approx(13.0, abs=0.3)
    assert [point.usable for point in result.points.points] == [False]


@pytest.mark.parametrize("fault", ["not-excited", None])
def test_a_hand_that_does_not_close_the_pile_is_waited_for_only_where_it_would_be_seen(
    fault: str | None,
) -> None:
    """Of a unit that gives nothing, on a stiff battery, the closing may not show."""
    simulated = InProcessRig("small-frame-14v-90a", fault, 1)
    hand = Watched(simulated, closes_after_s=1e6)
    result = piled(simulated, hand, steps=(1500.0,), at_most_s=120.0)
    (asked_s,) = hand.when("CLOSE THE PILE")
    if fault is None:
        assert isinstance(result.sweep.phase, HandLoaded)
        assert not hand.when("OPEN THE PILE")
        assert noticed(result) == []
        return
    assert hand.when("OPEN THE PILE")[0] - asked_s == pytest.approx(13.0, abs=0.3)
    assert result.sweep.finished
    assert [point.usable for point in result.points.points] == [False], "no load, no figure"
