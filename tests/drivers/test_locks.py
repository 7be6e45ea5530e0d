"""One program for each port and rig; the second is told who holds it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from drivers.errors import CannotOpen
from drivers.locks import take_lock

HOLDER = """
import sys
from pathlib import Path
from drivers.locks import take_lock
lock = take_lock("port", "COM7", instrument="amps", folder=Path(sys.argv[1]))
print("held", flush=True)
sys.stdin.read()
"""
ROOT = Path(__file__).parents[2]


def test_a_lock_is_given_once_and_again_after_its_release(tmp_path: Path) -> None:
    first = take_lock("port", "COM7", instrument="amps", folder=tmp_path)
    with pytest.raises(CannotOpen, match=r"amps: the port COM7 is held by .*process \d+, since 20"):
        take_lock("port", "COM7", instrument="amps", folder=tmp_path)
    other = take_lock("port", "COM8", instrument="amps", folder=tmp_path)
    rig = take_lock("rig", "COM7", instrument="amps", folder=tmp_path)
    first.release()
    first.release()
    again = take_lock("port", "COM7", instrument="amps", folder=tmp_path)
    for lock in (other, rig, again):
        lock.release()


def test_another_program_is_named_and_its_lock_goes_away_when_it_is_killed(tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(tmp_path)],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as program:
        assert program.stdout is not None
        assert program.stdout.readline() == "held\n"
        with pytest.raises(CannotOpen, match=f"process {program.pid}"):
            take_lock("port", "COM7", instrument="amps", folder=tmp_path)
        program.kill()
        program.wait(10.0)
        take_lock("port", "COM7", instrument="amps", folder=tmp_path).release()


def test_a_folder_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("")
    with pytest.raises(CannotOpen, match="cannot be written"):
        take_lock("port", "COM7", instrument="amps", folder=blocked)
