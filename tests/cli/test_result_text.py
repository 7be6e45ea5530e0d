"""The result in words: commands that can be copied, and figures without a minus before zero."""

from __future__ import annotations

import io
import shlex
import shutil
import sys
from dataclasses import replace
from os import terminal_size
from pathlib import Path

import pytest

from acquire.cli.command_line import command_line
from acquire.cli.result_text import _number, _row, going_on_lines
from acquire.cli.voice import Voice, wrapped
from acquire.ending import RunEnd
from acquire.errors import RunFileError
from acquire.judge.speed_result import SpeedResult
from acquire.judging import judge_run
from acquire.record.read_run import read_run
from acquire.rejudging import points_of_run
from acquire.snapshots import snapshots_of
from acquire.stop_path import StopReason
from tests.live.cut_runs import killed_after

LONG = "runs of the shop at the harbour/2026-11-25T080000Z-J 1044 with a name of its own-kqzd"


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def narrow(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    """A terminal of 40 columns."""
    monkeypatch.setattr(shutil, "get_terminal_size", lambda _usual: terminal_size((40, 24)))
    return Terminal()


@pytest.fixture
def stopped(tmp_path: Path) -> RunEnd:
    """A run of which three speeds are measured."""
    folder = killed_after("pass-van-alternator", 3, tmp_path / LONG)
    run = read_run(folder)
    return RunEnd(
        folder,
        judge_run(snapshots_of(run.header), points=points_of_run(run)),
        stopped=True,
        reason=StopReason("operator", "the operator stopped it"),
        under_way=True,
    )


def test_the_command_that_goes_on_is_one_line_that_a_shell_reads_as_it_is(
    stopped: RunEnd, narrow: Terminal
) -> None:
    said = wrapped("\n".join(going_on_lines(stopped)), narrow).splitlines()
    assert max(len(line) for line in said[:-1]) <= 39, "only the command is left whole"
    assert shlex.split(said[-1]) == ["steadyamps", "resume", str(stopped.folder)]


def test_a_record_that_is_not_finished_is_finished_by_the_same_command(
    stopped: RunEnd, narrow: Terminal
) -> None:
    trouble = RunFileError("seal.json", "cannot be written.")
    said = going_on_lines(replace(stopped, stopped=False, not_finished=trouble))
    assert "NOT FINISHED" in said[1]
    assert wrapped("\n".join(said), narrow).splitlines()[-1] == said[-1]
    assert shlex.split(said[-1])[-1] == str(stopped.folder)


def test_nothing_is_offered_where_nothing_can_go_on(stopped: RunEnd) -> None:
    assert going_on_lines(replace(stopped, goes_on=False)) == []
    assert going_on_lines(replace(stopped, stopped=False)) == []


def test_the_folder_of_a_run_is_not_broken_either(narrow: Terminal) -> None:
    line = f"Run folder: /{LONG}"
    assert wrapped(line, narrow) == line


def test_on_windows_a_command_is_quoted_as_its_shell_wants_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(sys, "platform", "win32")
    line = command_line("resume", r"C:\My runs\kqzd")
    assert line == r'    steadyamps resume "C:\My runs\kqzd"'


def test_a_result_is_printed_whole_where_it_is_no_terminal(
    capsys: pytest.CaptureFixture[str],
) -> None:
    Voice().result(command_line("compare", "a b", "c"))
    assert capsys.readouterr().out == "    steadyamps compare 'a b' c\n"


@pytest.mark.parametrize("value", [-0.0, -0.04, -0.0499])
def test_no_figure_is_minus_zero(value: float) -> None:
    assert _number(value, 7) == "    0.0"
    assert _number(value, 8, sign=True) == "    +0.0"
    point = SpeedResult(
        1500.0, value, rated_amps=value, limit_amps=value, margin_amps=value, outcome="not judged"
    )
    assert "-0.0" not in _row(point)
