"""Nobody looks at the readings any more: the watch says so once, and only then."""

from __future__ import annotations

import pytest

import acquire.pump_watch
from acquire.pump_watch import HANGS_AFTER_LOOKS, LOOK_S, PumpWatch
from tests.endurance.world import Threading, World


@pytest.fixture
def world(monkeypatch: pytest.MonkeyPatch) -> World:
    world = World("pump watch")
    monkeypatch.setattr(acquire.pump_watch, "threading", Threading(world))
    return world


def test_a_pump_that_hangs_is_told_once_and_within_its_time(world: World) -> None:
    said: list[float] = []
    turns = [0]
    watch = PumpWatch(lambda: turns[0], lambda _words: said.append(world.now_s))
    watch.begin()
    for _ in range(20):
        turns[0] += 1
        world.sleep_s(LOOK_S)
    assert said == []
    world.sleep_s(60.0)
    (at_s,) = said
    most_s = LOOK_S * (HANGS_AFTER_LOOKS + 1)
    assert most_s - 2 * LOOK_S <= at_s - 20 * LOOK_S <= most_s
    assert world.alive == []


def test_a_slow_pump_is_no_hanging_one(world: World) -> None:
    said: list[str] = []
    turns = [0]
    watch = PumpWatch(lambda: turns[0], said.append)
    watch.begin()
    for _ in range(20):
        turns[0] += 1
        world.sleep_s(LOOK_S * (HANGS_AFTER_LOOKS - 1))
    watch.end()
    world.sleep_s(60.0)
    assert said == []


def test_the_words_say_what_was_seen(world: World) -> None:
    said: list[str] = []
    PumpWatch(lambda: 0, said.append).begin()
    world.sleep_s(10.0)
    assert "not looked at for 5 s" in said[0]
