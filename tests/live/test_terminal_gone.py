"""A terminal that is closed in the middle of a test: the run is brought to rest and sealed."""

from __future__ import annotations

import errno
import io
import os
import sys
from pathlib import Path

import pytest

from acquire.cli.lost_output import dropping_output
from acquire.record.verify import verify
from acquire.signal_watch import WORDS
from tests.live.commands import command_line, environment, replay_all, runs_on
from tests.live.served import served

pytestmark = pytest.mark.skipif(os.name != "posix", reason="terminals of POSIX systems")
UNIT = "small-frame-14v-90a"
ON_THIS_TERMINAL = (
    "import fcntl, os, sys, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0);"
    " os.execv(sys.argv[1], sys.argv[1:])"
)
"""The program belongs to the terminal, so that its closing is a hang-up."""


@pytest.mark.parametrize("term", ["xterm", "dumb"], ids=["live block", "lines"])
def test_a_plain_run_whose_terminal_is_closed_is_judged_and_sealed(
    tmp_path: Path, term: str
) -> None:
    from tests.live.typist import Typist

    shelf = tmp_path / "shelf"
    with served(tmp_path) as rig:
        order = ("sweep", "--rig", str(rig.rig_file), "--rated", UNIT, "--yes")
        program = command_line("--shelf", str(shelf), *order)
        surroundings = {**environment(), "TERM": term}
        belongs = [sys.executable, "-c", ON_THIS_TERMINAL, *program]
        with Typist(belongs, surroundings, own_session=True) as typist:
            typist.expect("Turning to 1500 rpm")
            typist.expect("Holding at 1500 rpm")
            assert rig.told_to_run
            assert typist.hang_up() == 4
        assert not rig.told_to_run
    (run,) = runs_on(shelf)
    report = verify(run)
    assert report.sealed
    assert not report.complete
    assert WORDS["SIGHUP"] in (run / "verdict.json").read_text()
    replay_all(shelf)


class FullDisk(io.StringIO):
    """A stream that is given up after its first line."""

    def write(self, text: str) -> int:
        if self.getvalue():
            raise OSError(errno.ENOSPC, "No space left on device")
        return super().write(text)


def test_where_one_stream_is_lost_the_other_one_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    out, err = FullDisk(), io.StringIO()
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", err)
    with dropping_output():
        print("the first line")
        print("the second line")
        print("the third line")
    assert sys.stdout is out
    assert out.getvalue() == "the first line"
    assert err.getvalue() == (
        "What belongs on standard output could not be written (No space left on device).\n"
    )


def test_streams_that_work_are_left_as_they_are(capsys: pytest.CaptureFixture[str]) -> None:
    with dropping_output():
        print("a line")
    assert capsys.readouterr() == ("a line\n", "")
