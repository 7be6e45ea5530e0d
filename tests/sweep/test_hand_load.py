"""A load moved by hand: when it counts as closed, and what the hand is told."""

from __future__ import annotations

from acquire.sweep.hand_guide import RIGHT_FOR_S, SAY_EVERY_S, HandGuide
from acquire.sweep.intake import Value
from acquire.sweep.load_watch import LoadWatch, Moved


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
