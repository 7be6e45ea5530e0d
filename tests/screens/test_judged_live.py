"""While a run is on its points are judged as its verdict will judge them."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from acquire.bench import Bench
from acquire.judge.budget import Budget, Part
from acquire.judge.steady_point import SteadyPoint
from acquire.judging import WarmUpRan, judge_run
from acquire.live_run import LiveRun
from acquire.points import PointMaker
from acquire.run_order import RunOrder
from acquire.screens.judged_live import JudgedLive
from acquire.screens.speed_words import speed_word
from acquire.snapshots import Snapshots
from profiles.catalogue import load_method, load_rated, load_rig

RATED = "small-frame-14v-90a"
"""Rated warm: 45 A at 1500 rpm, 90 A at 6000 rpm."""
FOUR = ((1500.0, 45.5), (2000.0, 50.0), (3000.0, 77.3), (6000.0, 110.0))


def a_point(step: int, rpm: float, amps: float, *, u_amps: float = 0.2) -> SteadyPoint:
    budget = Budget((Part("scatter", "scatter", u_amps),))
    return SteadyPoint(
        step, rpm, shaft_rpm=rpm, u_shaft_rpm=0.5, amps=amps, u_amps=u_amps, volts=13.5,
        u_volts=0.01, settled="yes", settle_s=3.0, readings=30, budget=budget,
    )  # fmt: skip


def words(
    order: RunOrder, points: list[SteadyPoint], tmp_path: Path, warm_up: WarmUpRan | None = None
) -> list[tuple[str, str]]:
    run = LiveRun(order, shelf=tmp_path)
    maker = PointMaker(run.plan, run.rig)
    live, said = JudgedLive(run), []
    bench = cast("Bench", SimpleNamespace(points=maker, warm_up=warm_up))
    for point in points:
        maker.points.append(point)
        said.append(live.word_of(bench, point.step))
    return said


def test_a_cold_run_against_a_warm_rating_is_not_called_above_before_heat_is_counted(
    tmp_path: Path,
) -> None:
    """45.5 and 77.3 A are allowed as they stand; less a tenth for heat they are not."""
    order = RunOrder(load_rig("simulated"), load_method("quick"), load_rated(RATED))
    points = [a_point(n, *one) for n, one in enumerate(FOUR, 1)]
    said = words(order, points, tmp_path)
    assert said == [("~", "cold"), ("!", "below"), ("~", "cold"), ("=", "above")]
    profiles = Snapshots(
        order.rig.profile, order.method.profile, load_rated(RATED).profile, rule=None
    )
    verdict = judge_run(profiles, points=points).verdict
    results = [verdict.for_step(point.step) for point in points]
    assert said == [speed_word(one.outcome, one.why) for one in results if one is not None]


def test_after_a_warm_up_the_same_points_stand_as_they_are(tmp_path: Path) -> None:
    order = RunOrder(load_rig("simulated"), load_method("warm"), load_rated(RATED))
    points = [a_point(n, *one) for n, one in enumerate(FOUR, 1)]
    warm = WarmUpRan(lasted_s=3600.0, steady=True)
    assert words(order, points, tmp_path, warm) == [
        ("=", "above"), ("!", "below"), ("=", "above"), ("=", "above"),
    ]  # fmt: skip


@pytest.mark.parametrize("plate", ["", "45/90A 13.5V @1500/6000"])
def test_a_speed_that_nothing_is_rated_at_has_no_word(tmp_path: Path, plate: str) -> None:
    rated = load_rated(plate) if plate else None
    order = RunOrder(load_rig("simulated"), load_method("quick"), rated, steps=(3000.0,))
    assert words(order, [a_point(1, 3000.0, 77.0)], tmp_path) == [("", "")]
