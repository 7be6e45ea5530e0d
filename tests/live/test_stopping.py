"""Whatever ends a sweep, the drive is told to stop, and what was measured is kept."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from acquire.record.read_run import read_run
from acquire.record.verify import verify
from acquire.signal_watch import WORDS
from tests.live.commands import CHECKOUT, command_line, environment, replay_all, runs_on, steadyamps
from tests.live.served import Served, served

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX systems")
UNIT = "small-frame-14v-90a"
WAIT_S = 60.0


def until(what: Callable[[], bool]) -> None:
    """Wait for a thing to become true."""
    deadline_s = time.monotonic() + WAIT_S
    while not what():
        assert time.monotonic() < deadline_s, "it did not happen"
        time.sleep(0.01)


@contextmanager
def sweeping(rig: Served, shelf: Path) -> Iterator[subprocess.Popen[str]]:
    """A sweep in a process of its own, past its first steady point."""
    process = subprocess.Popen(
        command_line("--shelf", str(shelf), "sweep", "--rig", str(rig.rig_file), "--rated", UNIT,
                     "--yes"),
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True,
        cwd=CHECKOUT, env=environment(), start_new_session=True,
    )  # fmt: skip

    def has_a_point() -> bool:
        assert process.poll() is None, process.communicate()
        curves = [run / "curve.csv" for run in runs_on(shelf)]
        return any(curve.is_file() and curve.read_text().count("\n") > 1 for curve in curves)

    try:
        until(has_a_point)
        assert rig.told_to_run
        yield process
    finally:
        if process.poll() is None:
            process.kill()
            process.communicate()


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP", "SIGQUIT"])
def test_a_signal_stops_the_drive_keeps_the_run_and_ends_with_4(tmp_path: Path, name: str) -> None:
    shelf = tmp_path / "shelf"
    with served(tmp_path) as rig, sweeping(rig, shelf) as process:
        process.send_signal(getattr(signal, name))
        until(lambda: not rig.told_to_run)
        process.send_signal(getattr(signal, name))  # a second one never cuts the order short
        out, err = process.communicate(timeout=WAIT_S)
        assert process.returncode == 4, err
        assert rig.shaft_rpm < 800, "the load stayed connected until the shaft was slow"
    assert f"Stopped: {WORDS[name]}." in out
    (run,) = runs_on(shelf)
    report = verify(run)
    assert report.sealed
    assert not report.complete
    stops = [entry for entry in read_run(run).journal if entry.kind == "stop"]
    words = [str(entry.data["what"]) for entry in stops]
    assert words.index("drive off, speed 0") < words.index("load shed")
    replay_all(shelf)


def test_a_killed_program_leaves_a_drive_that_stops_by_itself_and_a_run_that_goes_on(
    tmp_path: Path,
) -> None:
    shelf = tmp_path / "shelf"
    with served(tmp_path) as rig, sweeping(rig, shelf) as process:
        process.kill()
        process.communicate(timeout=WAIT_S)
        until(lambda: not rig.told_to_run)
        assert rig.service.model.motor.stopped_for_silence
        (run,) = runs_on(shelf)
        before = (run / "curve.csv").read_text()
        again = steadyamps("resume", str(run), "--yes", shelf=shelf)
        assert again.code == 0, again.err
    assert (
        (run / "curve.csv")
        .read_text()
        .splitlines()[1]
        .startswith(",".join(before.splitlines()[1].split(",")[:12]))
    ), "measured columns keep their text byte for byte"
    assert verify(run).complete
    assert steadyamps("resume", str(run), "--yes", shelf=shelf).code == 2


def test_ctrl_z_stops_first_and_suspends_then(tmp_path: Path) -> None:
    shelf = tmp_path / "shelf"
    with served(tmp_path) as rig, sweeping(rig, shelf) as process:
        process.send_signal(signal.SIGTSTP)
        until(lambda: not rig.told_to_run)

        def suspended() -> bool:
            state = Path(f"/proc/{process.pid}/stat").read_text().rpartition(")")[2].split()[0]
            return state == "T"

        if Path("/proc").is_dir():
            until(suspended)
        process.send_signal(signal.SIGCONT)
        _, err = process.communicate(timeout=WAIT_S)
        assert process.returncode == 4, err


def test_a_drive_that_ignores_stop_is_called_out_for_the_emergency_stop(tmp_path: Path) -> None:
    shelf = tmp_path / "shelf"
    fault = "drive-ignores-stop"
    with served(tmp_path, fault=fault) as rig, sweeping(rig, shelf) as process:
        process.send_signal(signal.SIGTERM)
        _, err = process.communicate(timeout=WAIT_S)
        assert process.returncode == 4
    assert "EMERGENCY STOP" in err
    (run,) = runs_on(shelf)
    verdict = read_run(run).verdict
    assert verdict is not None
    assert verdict["cautions"][0].startswith("At the end the bench did not stop by itself")
    assert "bench did not stop" in [one["name"] for one in verdict["findings"]]
    shown = steadyamps("shelf", "show", run.name, shelf=shelf)
    assert "The bench did not stop by itself at the end" in shown.out


def test_two_programs_do_not_share_a_rig(tmp_path: Path) -> None:
    with served(tmp_path) as rig, sweeping(rig, tmp_path / "first") as process:
        second = steadyamps(
            "sweep", "--rig", str(rig.rig_file), "--rated", UNIT, "--yes", shelf=tmp_path / "second"
        )
        assert second.code == 5
        assert str(process.pid) in second.err
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=WAIT_S)
