"""The program as it is started by hand, on terminals of several kinds."""

from __future__ import annotations

import json
import os
import re
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("pseudo-terminals are of POSIX systems", allow_module_level=True)

from tests.screens.terminal import START, Terminal, only_run, sweep

COLOURS = re.compile(rb"\x1b\[[0-9;]*m")
MOUSE_ON = b"\x1b[?1000h"


def colour_codes(data: bytes) -> set[int]:
    """Codes of colours among the display attributes sent (ECMA-48, 8.3.117: 30-37, 40-47, 38, 48).

    39 and 49, the terminal's own colours, are none.
    """
    found: set[int] = set()
    for code in COLOURS.findall(data):
        numbers = [int(n) for n in code[2:-1].split(b";") if n]
        found |= {n for n in numbers if n in {*range(30, 39), *range(40, 49), *range(90, 108)}}
    return found


METHOD = """
title = "One speed, three checks"
[sweep]
[accept]
below_percent = 10
[[check]]
name = "rotor resistance"
when = "before"
in = "ohm"
low = 2.0
high = 5.0
[[check]]
name = "ripple"
at_rpm = 3000
in = "V"
high = 0.5
[[check]]
name = "runs quietly"
kind = "yes-no"
"""

AGAIN = {
    "Type the shaft speed, once more:": "6000",
    "Type the output current at 6000 rpm, once more:": "104.3",
    "Type the output voltage at 6000 rpm, once more:": "14.0",
}


def asks(question: str) -> Callable[[str], bool]:
    """True of a screen that asks this, with nothing typed yet."""
    return lambda shown: question in shown and "[_" in shown


def test_a_run_by_hand_from_first_to_last_key(tmp_path: Path) -> None:
    """One speed, typed twice, three seconds apart; three checks; the verdict; the next unit."""
    method = tmp_path / "checks.toml"
    method.write_text(METHOD, encoding="utf-8")
    with Terminal(
        "--shelf", str(tmp_path), "sweep", "--rig", "by-hand", "--rated", "14V 90A @6000",
        "--method", str(method),
        "--serial", "A-17", "--operator", "Nell", "--screen",
    ) as terminal:  # fmt: skip
        terminal.wait_for("Not ready.")
        terminal.press("k")
        terminal.wait_for("1 of 1. rotor resistance")
        terminal.press("3.1\r")
        terminal.wait_for("1 of 1 done")
        terminal.press("w")
        terminal.press("c")
        terminal.wait_for("all of this is so:")
        terminal.press("y")
        terminal.wait_for("Ready.")
        terminal.press("b")
        terminal.wait_for("Type the shaft speed:")
        terminal.press("6000\r")
        terminal.wait_for("Type the output current at 6000 rpm:")
        terminal.press("9.3\r")
        terminal.wait_for("is far from the 90 A")
        terminal.press("\x7f\x7f\x7f104.3\r")
        terminal.wait_for("Type the output voltage at 6000 rpm:")
        terminal.press("14.0\r")
        for question, typed in AGAIN.items():
            terminal.wait_for(asks(question))
            terminal.press(f"{typed}\r")
        terminal.wait_for("ripple: [V]")
        terminal.press("0.2\r")
        terminal.wait_for("1 of 1. runs quietly")
        terminal.press("maybe\r")
        terminal.wait_for("wants yes or no")
        terminal.press("\x7f" * 5 + "yes\r")
        terminal.wait_for("6000  104.3")
        terminal.wait_for("[n]ext unit")
        terminal.press("n")
        text = terminal.wait_for(lambda shown: "Not ready." in shown and "A-17" not in shown)
        assert "Nell" in text, "the same operator"
        terminal.press("q")
        code = terminal.end()
        assert terminal.restored
    folder = only_run(tmp_path)
    verdict = json.loads((folder / "verdict.json").read_text())
    expected = {"pass": 0, "fail": 1, "undecided": 3}
    assert code == expected[verdict["outcome"]]
    journal = (folder / "journal.jsonl").read_text()
    assert "accepted on the screen" in journal
    assert [check["outcome"] for check in verdict["checks"]] == ["pass"] * 3


KINDS: dict[str, tuple[tuple[str, ...], dict[str, str]]] = {
    "true colour": ((), {"COLORTERM": "truecolor"}),
    "16 colours": ((), {"TEXTUAL_COLOR_SYSTEM": "standard"}),
    "no colour": ((), {"NO_COLOR": "1"}),
    "light paper": (("--light",), {}),
    "Linux console": ((), {"TERM": "linux"}),
    "no Unicode": ((), {"PYTHONIOENCODING": "latin-1"}),
    "plain signs, no mouse": (("--glyphs", "ascii", "--no-mouse"), {}),
}


@pytest.mark.parametrize("kind", KINDS)
def test_the_ready_page_reads_the_same_on_every_kind_of_terminal(kind: str, tmp_path: Path) -> None:
    options, environment = KINDS[kind]
    with Terminal("--shelf", str(tmp_path), *options, environment=environment) as terminal:
        text = terminal.wait_for("[q]uit")
        assert "Not ready. Choose the rig." in text
        assert "[u]nit" in text
        terminal.press("q")
        assert terminal.end() == 0
        assert terminal.restored
        received = terminal.received
    assert (MOUSE_ON in received) == ("--no-mouse" not in options)
    codes = colour_codes(received)
    if kind == "no colour":
        assert codes == set()
    elif kind in ("16 colours", "Linux console"):
        assert codes
        assert 38 not in codes
        assert 48 not in codes
    else:
        assert 38 in codes


def test_a_suspended_program_stands_still_with_the_rig_at_rest(
    tmp_path: Path, fast_rig: Path
) -> None:
    with sweep(tmp_path / "shelf", fast_rig) as terminal:
        terminal.wait_for("Holding at")
        os.kill(terminal.process.pid, signal.SIGTSTP)
        until_s = time.monotonic() + 20
        state = ""
        while state != "T" and time.monotonic() < until_s:
            terminal.read()
            stat = Path(f"/proc/{terminal.process.pid}/stat")
            if not stat.exists():
                pytest.skip("this system has no /proc to see a suspended process by")
            state = stat.read_text().rpartition(")")[2].split()[0]
        assert state == "T", "the process is suspended"
        journal = only_run(tmp_path / "shelf") / "journal.jsonl"
        assert '"drive off, speed 0"' in journal.read_text()
        os.kill(terminal.process.pid, signal.SIGCONT)
        terminal.wait_for("Stopped: Ctrl-Z was pressed.")
        terminal.press("q")
        assert terminal.end() == 4


SHELL = f"""
import os, signal, sys, time
signal.signal(signal.SIGTTOU, signal.SIG_IGN)
child = os.fork()
if child == 0:
    os.setpgid(0, 0)
    os.tcsetpgrp(0, os.getpid())
    os.execv(sys.executable, [sys.executable, "-c", {START!r}, *sys.argv[1:]])
_, how = os.waitpid(child, os.WUNTRACED)
while os.WIFSTOPPED(how):
    os.tcsetpgrp(0, os.getpgrp())
    print("SUSPENDED", end=" ", flush=True)
    os.read(0, 1)
    os.tcsetpgrp(0, child)
    os.killpg(child, signal.SIGCONT)
    _, how = os.waitpid(child, os.WUNTRACED)
sys.exit(os.waitstatus_to_exitcode(how))
"""
"""As a shell with job control does: its child has a process group of its own."""


def test_ctrl_z_on_the_keyboard_stops_the_rig_and_then_suspends(
    tmp_path: Path, fast_rig: Path
) -> None:
    with sweep(tmp_path / "shelf", fast_rig, SHELL) as terminal:
        terminal.wait_for("Holding at")
        terminal.press("\x1a")
        terminal.wait_for("SUSPENDED")
        journal = only_run(tmp_path / "shelf") / "journal.jsonl"
        assert '"drive off, speed 0"' in journal.read_text()
        terminal.press("\n")
        terminal.wait_for("Stopped: Ctrl-Z was pressed.")
        terminal.press("q")
        assert terminal.end() == 4
        assert terminal.restored


def test_ctrl_z_where_no_shell_waits_stops_the_rig_and_stays(
    tmp_path: Path, fast_rig: Path
) -> None:
    with sweep(tmp_path / "shelf", fast_rig) as terminal:
        terminal.wait_for("Holding at")
        terminal.press("\x1a")
        terminal.wait_for("Stopped: Ctrl-Z was pressed.")
        terminal.press("q")
        assert terminal.end() == 4
