"""A finding tells the currents that stand in the verdict's table, not others beside them."""

from __future__ import annotations

import pytest

from acquire.findings.case import Case
from acquire.judge.steady_point import SteadyPoint
from profiles.catalogue import load_rig

MOVED = SteadyPoint(
    1, 1500.0, shaft_rpm=1501.4, amps=33.76, amps_at_set_rpm=33.72, settled="yes"
)  # fmt: skip


@pytest.mark.parametrize(
    ("rig", "told"), [("simulated", (1500.0, 33.72)), ("by-hand", (1501.4, 33.76))]
)
def test_a_driven_speed_is_told_as_set_one_held_by_hand_as_measured(
    rig: str, told: tuple[float, float]
) -> None:
    case = Case([MOVED], rig=load_rig(rig).profile)
    assert case.in_table(MOVED) == told
