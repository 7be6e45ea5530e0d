"""What accepts a caution: a typed yes, and none that was typed before the question stood there."""

from __future__ import annotations

import io
import os
import sys

import pytest

from acquire.cli.questions import confirmed, forget_typed_ahead


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals of POSIX systems")
def test_answers_typed_before_the_question_are_thrown_away(monkeypatch: pytest.MonkeyPatch) -> None:
    import pty

    here, there = pty.openpty()
    with os.fdopen(there, encoding="utf-8") as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        os.write(here, b"yes\nyes\nyes\n")
        forget_typed_ahead()
        os.write(here, b"no\n")
        assert terminal.readline() == "no\n"
    os.close(here)


def test_where_there_is_no_terminal_nothing_is_thrown_away(monkeypatch: pytest.MonkeyPatch) -> None:
    there, here = os.pipe()
    with os.fdopen(there, encoding="utf-8") as pipe:
        monkeypatch.setattr(sys, "stdin", pipe)
        os.write(here, b"yes\n")
        os.close(here)
        forget_typed_ahead()
        assert pipe.readline() == "yes\n"
    monkeypatch.setattr(sys, "stdin", io.StringIO("yes\n"))
    forget_typed_ahead()
    assert sys.stdin.readline() == "yes\n"


def asked(typed: str, monkeypatch: pytest.MonkeyPatch) -> tuple[bool, list[str]]:
    """Whether it was accepted, and what was said."""
    said: list[str] = []
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    return confirmed("belt guard closed", said.append), said


ONCE = ["belt guard closed? (yes)"]
TWICE = [*ONCE, "Please answer yes or no.", *ONCE]


@pytest.mark.parametrize(
    ("typed", "accepted", "said"),
    [
        ("yes\n", True, ONCE),
        ("Y\n", True, ONCE),
        ("ja\nyes\n", True, TWICE),
        ("\ny\n", True, TWICE),
        ("no\nyes\n", False, ONCE),
        ("n\nyes\n", False, ONCE),
        ("ja\nno\nyes\n", False, TWICE),
        ("ja\nja\nyes\n", False, TWICE),
        ("", False, ONCE),
        ("yess\n", False, TWICE),
    ],
)
def test_a_slip_is_asked_about_once_more_and_only_yes_accepts(
    typed: str, accepted: bool, said: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    got, heard = asked(typed, monkeypatch)
    assert got is accepted
    assert heard == said


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals of POSIX systems")
def test_a_yes_typed_ahead_of_the_second_asking_does_not_accept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    import pty

    here, there = pty.openpty()
    said: list[str] = []

    def say(text: str) -> None:
        said.append(text)
        if said == TWICE:
            os.write(here, b"no\n")

    with os.fdopen(there, encoding="utf-8") as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        os.write(here, b"ja\nyes\n")
        assert not confirmed("belt guard closed", say)
    os.close(here)
    assert said == TWICE
