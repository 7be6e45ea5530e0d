"""The screens may die; the rig comes to rest, the record is kept, the terminal is given back."""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import IO, cast

import pytest

if sys.platform == "win32":
    pytest.skip("pseudo-terminals are of POSIX systems", allow_module_level=True)

from acquire.record.read_run import read_run
from tests.screens.terminal import START, Terminal, only_run, sweep

FAILING = f"""
import acquire.screens.sweep_page as page
looks = 0
whole = page.SweepPage.page_rows
def page_rows(self, width, height):
    global looks
    looks += 1
    if looks == 8:
        raise ZeroDivisionError("a widget fails")
    return whole(self, width, height)
page.SweepPage.page_rows = page_rows
{START}
"""
FROZEN = f"""
import os, pathlib, time
import acquire.screens.sweep_page as page
looks = 0
whole = page.SweepPage.page_rows
def page_rows(self, width, height):
    global looks
    looks += 1
    if looks == 8:
        folder = pathlib.Path(os.environ["HANGS_IN"])
        (folder / "hangs").touch()
        until_s = time.monotonic() + 60.0
        while not (folder / "goes on").exists() and time.monotonic() < until_s:
            time.sleep(0.02)
    return whole(self, width, height)
page.SweepPage.page_rows = page_rows
{START}
"""


def assert_came_to_rest(folder: Path) -> None:
    """The journal says that the drive was told to stop first, and that it did; sealed, stopped."""
    run = read_run(folder)
    stops = [entry.data for entry in run.journal if entry.kind == "stop"]
    assert stops, "the stop path wrote nothing"
    assert stops[0]["what"] == "drive off, speed 0"
    assert all(stop["ok"] for stop in stops)
    assert run.header.state == "stopped"
    assert (folder / "seal.json").exists()


def end_by_signal(number: int) -> Callable[[Terminal], None]:
    return lambda terminal: os.kill(terminal.process.pid, number)


DEATHS: dict[str, Callable[[Terminal], None]] = {
    "SIGTERM": end_by_signal(signal.SIGTERM),
    "SIGHUP": end_by_signal(signal.SIGHUP),
    "SIGINT": end_by_signal(signal.SIGINT),
    "SIGQUIT": end_by_signal(signal.SIGQUIT),
}


@pytest.mark.parametrize("death", DEATHS.values(), ids=DEATHS.keys())
def test_a_signal_stops_the_rig_keeps_the_record_and_gives_the_terminal_back(
    death: Callable[[Terminal], None], tmp_path: Path, fast_rig: Path
) -> None:
    with sweep(tmp_path / "shelf", fast_rig) as terminal:
        terminal.wait_for("Holding at")
        death(terminal)
        assert terminal.end() == 4
        assert terminal.restored
    assert_came_to_rest(only_run(tmp_path / "shelf"))


def test_a_lost_line_stops_the_rig_and_keeps_the_record(tmp_path: Path, fast_rig: Path) -> None:
    with sweep(tmp_path / "shelf", fast_rig) as terminal:
        terminal.wait_for("Holding at")
        terminal.hang_up()
        assert terminal.end() == 4
    assert_came_to_rest(only_run(tmp_path / "shelf"))


def test_a_line_lost_after_the_program_was_told_to_go_on_ends_it_too(
    tmp_path: Path, fast_rig: Path
) -> None:
    """SIGCONT comes to a program that was never suspended, as some terminals send it."""
    with sweep(tmp_path / "shelf", fast_rig) as terminal:
        terminal.wait_for("Holding at")
        os.kill(terminal.process.pid, signal.SIGCONT)
        terminal.wait_for("3000 rpm")
        terminal.hang_up()
        assert terminal.end() == 4
    assert_came_to_rest(only_run(tmp_path / "shelf"))


def test_what_is_written_to_a_terminal_that_is_gone_is_thrown_away() -> None:
    """The toolkit's own writer thread, on a terminal that fails: it lives on and ends when told."""
    from textual.drivers._writer_thread import MAX_QUEUED_WRITES, WriterThread

    from acquire.screens.stop_key import TerminalOrNone

    class Gone:
        def write(self, _text: str) -> None:
            raise OSError(5, "Input/output error")

        def flush(self) -> None:
            raise OSError(5, "Input/output error")

    writer = WriterThread(cast("IO[str]", TerminalOrNone(cast("IO[str]", Gone()))))
    writer.start()

    def write() -> None:
        for _ in range(3 * MAX_QUEUED_WRITES):
            writer.write("x")
        writer.stop()

    writing = threading.Thread(target=write, daemon=True)
    writing.start()
    writing.join(10.0)
    assert not writing.is_alive()


def test_an_exception_in_a_page_stops_the_rig_and_keeps_the_record(
    tmp_path: Path, fast_rig: Path
) -> None:
    with sweep(tmp_path / "shelf", fast_rig, FAILING) as terminal:
        assert terminal.end() == 4
        assert terminal.restored
        assert "a widget fails" in terminal.text
    folder = only_run(tmp_path / "shelf")
    assert_came_to_rest(folder)
    verdict = json.loads((folder / "verdict.json").read_text())
    assert "the screens failed" in verdict["reason"]


def read_until(terminal: Terminal, what: Callable[[], bool], within_s: float = 30.0) -> None:
    """Take what the program draws until something outside its screen is so."""
    until_s = time.monotonic() + within_s
    while not what():
        assert time.monotonic() < until_s, terminal.text
        terminal.read()


def test_the_space_bar_stops_while_a_page_hangs(tmp_path: Path, fast_rig: Path) -> None:
    """The page hangs on the event loop until it is let go; the drive is off long before."""
    with sweep(tmp_path / "shelf", fast_rig, FROZEN) as terminal:
        read_until(terminal, (tmp_path / "hangs").exists)
        terminal.press(" ")
        journal = only_run(tmp_path / "shelf") / "journal.jsonl"
        read_until(terminal, lambda: '"drive off, speed 0"' in journal.read_text())
        assert "Stopp" not in terminal.text, "the page still hangs"
        (tmp_path / "goes on").touch()
        terminal.wait_for("Stopped: the space bar was pressed.")
        terminal.press("q")
        assert terminal.end() == 4
    assert_came_to_rest(only_run(tmp_path / "shelf"))


def test_ctrl_c_on_the_keyboard_stops_the_run_and_then_leaves(
    tmp_path: Path, fast_rig: Path
) -> None:
    with sweep(tmp_path / "shelf", fast_rig) as terminal:
        terminal.wait_for("Holding at")
        terminal.press("\x03")
        terminal.wait_for("Stopped: Ctrl-C was pressed.")
        terminal.press("\x03")
        assert terminal.end() == 4
        assert terminal.restored
    assert_came_to_rest(only_run(tmp_path / "shelf"))


def test_without_a_terminal_the_screens_refuse_with_a_sentence(tmp_path: Path) -> None:
    import subprocess

    done = subprocess.run(
        [sys.executable, "-c", START, "--shelf", str(tmp_path)],
        capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False, timeout=60,
    )  # fmt: skip
    assert done.returncode == 2
    assert "need a terminal" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_drive_that_ignores_the_stop_is_told_where_the_screens_were(
    tmp_path: Path, fast_rig: Path
) -> None:
    """The screens are left by a signal; the shaft turns on, and the terminal says so at once."""
    with sweep(tmp_path / "shelf", fast_rig, faults=("--fault", "drive-ignores-stop")) as terminal:
        terminal.wait_for("Holding at")
        os.kill(terminal.process.pid, signal.SIGTERM)
        terminal.wait_for("! THE SHAFT DOES NOT SLOW DOWN")
        assert terminal.process.poll() is None, "it is told while the shaft turns"
        assert terminal.end() == 4
        said = " ".join(terminal.text.split())
    assert "! PRESS THE EMERGENCY STOP: the shaft was last seen at" in said
    stops = [e.data for e in read_run(only_run(tmp_path / "shelf")).journal if e.kind == "stop"]
    assert not any(stop["what"] == "load shed" for stop in stops), "not off a shaft that turns"
    assert any("the load stays on" in str(stop["what"]) for stop in stops)


@pytest.mark.parametrize("rig", ["simulated-aboard", "simulated-pile"])
def test_a_stop_with_the_pile_closed_has_hands_open_it_before_the_run_is_over(
    rig: str, tmp_path: Path
) -> None:
    """The simulated hands do what the page tells hands to do."""
    shelf = tmp_path / "shelf"
    with sweep(shelf, Path(rig)) as terminal:
        terminal.wait_for("load on")
        terminal.press(" ")
        terminal.wait_for("Stopped: the space bar was pressed.")
        assert "OPEN THE PILE" not in terminal.text
        terminal.press("q")
        assert terminal.end() == 4
    run = read_run(only_run(shelf))
    stopping = next(n for n, entry in enumerate(run.journal) if entry.kind == "stopping")
    after = [entry for entry in run.journal[stopping:] if entry.kind in ("stop", "hands")]
    said = [str(entry.data.get("what") or entry.data.get("words")) for entry in after]
    assert said.index("OPEN THE PILE") < said.index("the pile is open")
    assert ("BRING IT TO IDLE" in said) == (rig == "simulated-aboard")
    assert ("the shaft stands still" in said) == (rig == "simulated-pile")
