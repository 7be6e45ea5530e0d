"""What is typed before it is asked for is kept; `stop` is heard also while nothing is asked."""

from __future__ import annotations

import os
import sys
import time
from types import SimpleNamespace
from typing import cast

import pytest

from acquire.bench import Bench
from acquire.cli.answers import Answers
from acquire.cli.check_questions import STOP_WORDS
from acquire.cli.plain_run import PlainRun
from acquire.cli.voice import Voice
from acquire.live_run import LiveRun
from acquire.run_order import RunOrder
from acquire.stop_path import StopReason
from profiles.catalogue import load_method, load_rig

WAIT_S = 10.0


def heard(answers: Answers) -> str | None:
    until = time.monotonic() + WAIT_S
    while time.monotonic() < until:
        word = answers.heard(STOP_WORDS)
        if word is not None:
            return word
        time.sleep(0.005)
    return None


def test_stop_is_heard_from_a_pipe_and_what_waits_for_later_questions_is_kept() -> None:
    there, here = os.pipe()
    answers = Answers(there)
    os.write(here, b"STOP\n1500\nstop\n")
    os.close(here)
    assert heard(answers) == "STOP"
    assert answers.heard(STOP_WORDS) is None, "it stands behind an answer: not its turn"
    assert answers.next(WAIT_S) == "1500"
    assert answers.next(WAIT_S) == "stop"
    assert answers.next(WAIT_S) is None
    assert answers.ended
    os.close(there)


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals of POSIX systems")
def test_somebody_at_the_keyboard_is_heard_whatever_was_typed_before() -> None:
    import pty

    here, there = pty.openpty()
    answers = Answers(there)
    os.write(here, b"15oo\nq\n44.1\n")
    assert heard(answers) == "q"
    assert answers.next(WAIT_S) == "15oo"
    assert answers.next(WAIT_S) == "44.1"


@pytest.mark.parametrize(("typed", "stops"), [(True, ["the operator typed stop"]), (False, [])])
def test_a_run_that_asks_nothing_just_now_is_stopped_by_the_word(
    typed: bool, stops: list[str]
) -> None:
    """`typed`: only where readings are typed the program listens to the keyboard at all."""
    order = RunOrder(load_rig("by-hand"), load_method("quick"), steps=(1500.0,))
    plain = PlainRun(cast("Voice", SimpleNamespace()), order, confirmed=True)
    reasons: list[StopReason] = []
    plan = SimpleNamespace(typed=frozenset({"amps"}) if typed else frozenset())
    bench = cast(
        "Bench",
        SimpleNamespace(
            sweep=SimpleNamespace(plan=plan, checks=()),
            view=SimpleNamespace(question=None),
            stop=reasons.append,
        ),
    )
    there, here = os.pipe()
    os.write(here, b"stop\n")
    plain._answers = Answers(there)
    until = time.monotonic() + (WAIT_S if stops else 0.1)
    while not reasons and time.monotonic() < until:
        plain._questions(cast("LiveRun", SimpleNamespace()), bench)
    os.close(here)
    assert [reason.words for reason in reasons] == stops
