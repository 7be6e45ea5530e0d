"""The shaft may turn too fast on every rig, whichever channel its speed comes from."""

from __future__ import annotations

from dataclasses import replace

import pytest

from acquire.guard import Guard, GuardPlan
from acquire.guard_plan import guard_plan
from acquire.run_order import RunOrder
from acquire.sweep.plan import SpeedSource
from drivers.readings import Reading
from profiles.catalogue import load_method, load_rated, load_rig

RATED_MAX_RPM = 10_000.0


def guarded(source: SpeedSource, ratio: float) -> GuardPlan:
    """What is watched where the shaft speed is `ratio` times what `source` reads."""
    order = RunOrder(
        rig=load_rig("simulated"),
        method=load_method("rebuild-12v"),
        rated=load_rated("small-frame-14v-90a"),
    )
    plan = replace(order.plan(), speed_source=source, speed_ratio=ratio)
    return guard_plan(order.rig.profile, plan, rated_max_rpm=RATED_MAX_RPM)


@pytest.mark.parametrize(
    ("source", "ratio", "at_the_ceiling"),
    [
        ("shaft_rpm", 1.0, 10_000.0),
        ("w_hz", 10.0, 1000.0),  # six pole pairs: 60 / 6 rpm for one hertz
        ("engine_rpm", 2.5, 4000.0),
        ("drive_rpm", 2.0, 5000.0),
    ],
)
def test_a_shaft_above_what_the_unit_may_run_trips_whatever_reads_its_speed(
    source: SpeedSource, ratio: float, at_the_ceiling: float
) -> None:
    plan = guarded(source, ratio)
    assert Guard(plan).see(Reading(source, 1.0, at_the_ceiling)) is None
    trip = Guard(plan).see(Reading(source, 1.0, 1.05 * at_the_ceiling))
    assert trip is not None
    assert (trip.kind, trip.channel) == ("limit", source)
