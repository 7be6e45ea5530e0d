"""A plain run says at once why it stops and what fails meanwhile, not when all is over."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

from acquire.cli.plain_run import PlainRun, tell_end
from acquire.cli.voice import Voice
from acquire.ending import RunEnd
from acquire.judging import judge_run
from acquire.live_run import LiveRun
from acquire.run_order import RunOrder
from acquire.snapshots import snapshots_of
from acquire.stop_path import EMERGENCY, StopEvent, StopReason, StopReport
from acquire.stop_words import left_to_do, rest_sentence
from profiles.catalogue import load_method, load_rated, load_rig

PLATE = "45/90A 13.5V @1500/6000"
ORDER = RunOrder(load_rig("simulated"), load_method("quick"), load_rated(PLATE), steps=(2000.0,))


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


def test_the_end_says_what_is_left_to_hands_in_the_words_of_the_screens() -> None:
    said: list[str] = []
    voice = cast(
        "Voice",
        SimpleNamespace(talk=said.append, result=said.append, document=lambda _document: None),
    )
    report = StopReport(StopReason("operator", "the space bar was pressed."), 0.0)
    report.hands, report.last_rpm = EMERGENCY, 1486.0
    report.events.append(StopEvent(1.0, "after 60 s the shaft still turns", ok=False))
    snapshots = snapshots_of(ORDER.header(ORDER.plan()))
    judged = judge_run(snapshots, points=(), why_stopped=report.reason.words)
    told = SimpleNamespace(
        folder=Path("run"), judgement=judged, stopped=True, reason=report.reason,
        not_finished=None, goes_on=True,
    )  # fmt: skip
    end = cast("RunEnd", told)
    tell_end(voice, ORDER, end, report.events, left=left_to_do(report, stopped=True))
    assert said[1:] == [
        "  ! after 60 s the shaft still turns",
        "  >>> EMERGENCY STOP NOW",
        "  ! PRESS THE EMERGENCY STOP: the shaft was last seen at 1486 rpm."
        " Keep clear until it stands still.",
    ]
    said.clear()
    report.stands, report.hands = True, ""
    tell_end(voice, ORDER, end, left=left_to_do(report, stopped=True))
    assert len(said) == 1, "a rig at rest leaves nothing to do"


def test_checks_at_standstill_say_first_whether_the_rig_is_at_rest(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    said: list[str] = []
    order = RunOrder(load_rig("by-hand"), load_method("rebuild-12v"), load_rated(PLATE))
    voice = cast("Voice", SimpleNamespace(talk=said.append))
    plain = PlainRun(voice, order, confirmed=False)
    monkeypatch.setattr("acquire.cli.plain_run.ask_all", lambda *_given: {})
    monkeypatch.setattr(plain, "_typing", lambda: None)
    words = rest_sentence(StopReport(StopReason("complete", "all steps are over"), 0.0))
    plain._ask_checks("after", words)
    assert said[0].startswith("Keep clear until it stands still")
    assert said[1].startswith("Checks after the sweep")
