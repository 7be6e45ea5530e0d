"""A plain run says at once why it stops and what fails meanwhile, not when all is over."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

from acquire.cli.plain_run import PlainRun
from acquire.cli.voice import Voice
from acquire.live_run import LiveRun
from acquire.run_order import RunOrder
from acquire.stop_path import StopEvent, StopReason, StopReport
from profiles.catalogue import load_method, load_rig


def shown(report: StopReport | None, plain: PlainRun) -> list[str]:
    said: list[str] = []
    run = cast("LiveRun", SimpleNamespace(stop_path=SimpleNamespace(report=report)))
    plain._show_stop(run, say=said.append)
    return said


def plain_run() -> PlainRun:
    order = RunOrder(load_rig("simulated"), load_method("quick"), steps=(2000.0,))
    return PlainRun(cast("Voice", SimpleNamespace()), order, confirmed=True)


def test_a_drive_that_does_not_stop_is_called_out_while_it_still_turns() -> None:
    plain = plain_run()
    assert shown(None, plain) == []
    report = StopReport(StopReason("guard", "output voltage is 16.4 V."), 10.0)
    assert shown(report, plain) == ["Stopping: output voltage is 16.4 V."]
    report.events.append(StopEvent(10.1, "field off"))
    called = "THE DRIVE DOES NOT STOP: PRESS THE EMERGENCY STOP"
    report.events.append(StopEvent(20.0, called, ok=False))
    assert not report.finished
    assert shown(report, plain) == [f"  ! {called}"]
    assert shown(report, plain) == [], "once"


def test_a_sweep_that_ends_by_itself_is_no_stop_to_speak_of() -> None:
    report = StopReport(StopReason("complete", "all steps are over"), 10.0)
    report.events.append(StopEvent(10.1, "drive off, speed 0"))
    assert shown(report, plain_run()) == []
