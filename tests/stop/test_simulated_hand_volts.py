"""A simulated hand knows the voltage it sets its pile by; nobody assumes one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from acquire.errors import OrderError
from acquire.live_run import LiveRun
from acquire.run_order import RunOrder
from profiles.catalogue import load_method, load_rated, load_rig
from tests.in_process_rig import InProcessRig


def volts_of_hand(order: RunOrder, shelf: Path) -> float:
    run = LiveRun(order, shelf=shelf)
    run._opened_rig.simulated_controls = InProcessRig()
    hand = run._simulated_hand()
    assert hand is not None
    return hand.volts


@pytest.mark.parametrize(("rig", "volts"), [("simulated-24", 27.0), ("simulated-pile", 13.5)])
def test_without_a_test_voltage_it_is_that_of_the_machine_turned(
    rig: str, volts: float, tmp_path: Path
) -> None:
    order = RunOrder(rig=load_rig(rig), method=load_method("quick"), steps=(2000.0,))
    assert order.plan().test_volts is None
    assert volts_of_hand(order, tmp_path) == volts


def test_the_test_voltage_comes_first(tmp_path: Path) -> None:
    order = RunOrder(
        rig=load_rig("simulated-24"),
        method=load_method("quick"),
        rated=load_rated("small-frame-28v-80a"),
    )
    assert volts_of_hand(order, tmp_path) == order.plan().test_volts


def test_where_nothing_tells_it_the_run_is_refused(tmp_path: Path) -> None:
    loaded = load_rig("simulated-24")
    assert loaded.profile.simulated is not None
    unknown = loaded.profile.simulated.model_copy(update={"machine": "of-a-drawer"})
    rig = replace(loaded, profile=loaded.profile.model_copy(update={"simulated": unknown}))
    order = RunOrder(rig=rig, method=load_method("quick"), steps=(2000.0,))
    with pytest.raises(OrderError, match="no test voltage"):
        volts_of_hand(order, tmp_path)
