"""What was typed before a caution stood there does not accept it."""

from __future__ import annotations

import io
import os
import sys

import pytest

from acquire.cli.questions import forget_typed_ahead


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
