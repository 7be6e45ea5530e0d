"""The whole program as if on Windows and as if on macOS; NOT run on the real systems.

Children with stand-ins for what those systems have and lack (`as_if`): every module imports, and a
sweep runs to its verdict, or to the stop that a closing console asks for.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.signal_watch import WORDS
from tests.portability.reach import ROOT

SWEEP = ("sweep", "--rig", "simulated", "--rated", "small-frame-14v-90a", "--yes")
POSIX_ONLY = "drivers.simulated.servers.terminal"
SHELF = "Prüfstand 1 (Läufe)"
"""A name with a space, umlauts and brackets."""
CHILDREN: dict[str, tuple[str, ...]] = {
    "windows imports": ("win32", "import", POSIX_ONLY),
    "windows imports all": ("win32", "import"),
    "mac imports": ("darwin", "import"),
    "windows sees": ("win32", "see"),
    "mac sees": ("darwin", "see"),
    "windows": ("win32", "run", "--", "--shelf", SHELF, *SWEEP),
    "mac": ("darwin", "run", "--", "--shelf", SHELF, *SWEEP),
    **{
        event: ("win32", "run", f"{event}@run drive", "--", "--shelf", f"{SHELF} {event}", *SWEEP)
        for event in ("CTRL_C", "CTRL_BREAK", "CTRL_CLOSE", "CTRL_LOGOFF", "CTRL_SHUTDOWN")
    },
}


class Child:
    """One child: its exit code, and what it said."""

    def __init__(self, arguments: tuple[str, ...], where: Path) -> None:
        environment = {
            **os.environ,
            "PYTHONPATH": str(ROOT),
            "STEADYAMPS_CONFIG": str(where / "own"),
            "PYTHONUTF8": "1",
        }
        self._running = subprocess.Popen(
            [sys.executable, "-W", "error", "-m", "tests.portability.as_if", *arguments],
            cwd=where, env=environment, text=True, encoding="utf-8",
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip
        self.out = self.err = ""

    @property
    def code(self) -> int:
        """Waits for its end."""
        if not self.out + self.err:
            self.out, self.err = self._running.communicate(timeout=240.0)
        return self._running.returncode

    def give_up(self) -> None:
        """End it, where a test did not wait for it."""
        if self._running.poll() is None:
            self._running.kill()
            self._running.communicate()


@pytest.fixture(scope="module")
def where(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("elsewhere")


@pytest.fixture(scope="module")
def children(where: Path) -> Iterator[dict[str, Child]]:
    """All at once: they mostly wait."""
    started = {name: Child(arguments, where) for name, arguments in CHILDREN.items()}
    yield started
    for child in started.values():
        child.give_up()


def test_what_the_program_sees_is_the_other_system(children: dict[str, Child]) -> None:
    windows, mac = children["windows sees"], children["mac sees"]
    assert windows.code == 0, windows.err
    assert json.loads(windows.out) == {
        "platform": "win32",
        "signals": ["SIGBREAK", "SIGINT", "SIGTERM"],
        "folder_opens": False,
        "fcntl": False,
        "the_real_platform": sys.platform,
    }
    assert mac.code == 0, mac.err
    assert json.loads(mac.out)["platform"] == "darwin"


@pytest.mark.parametrize("name", ["windows imports", "mac imports"])
def test_every_module_imports(name: str, children: dict[str, Child]) -> None:
    child = children[name]
    assert child.code == 0, child.err
    assert int(child.out.removeprefix("imported ")) > 300


def test_the_one_module_for_posix_says_so_on_windows(children: dict[str, Child]) -> None:
    child = children["windows imports all"]
    assert child.code != 0
    assert "no pseudo-terminals" in child.err


@pytest.mark.parametrize("name", ["windows", "mac"])
def test_a_simulated_sweep_runs_to_its_verdict(
    name: str, children: dict[str, Child], where: Path
) -> None:
    child = children[name]
    assert child.code == 0, child.out + child.err
    assert "Passes." in child.out
    assert "handlers left: 0" in child.err
    runs = list((where / SHELF).glob("*/seal.json"))
    assert runs
    assert not list((where / SHELF).rglob("*.part"))


@pytest.mark.parametrize(("event", "named"), [("CTRL_C", "Ctrl-C"), ("CTRL_BREAK", "Ctrl-Break")])
def test_ctrl_c_and_ctrl_break_stop_the_run(
    event: str, named: str, children: dict[str, Child]
) -> None:
    child = children[event]
    assert child.code == 4, child.out + child.err
    assert f"Stopped: {named} was pressed" in child.out


@pytest.mark.parametrize("event", ["CTRL_CLOSE", "CTRL_LOGOFF", "CTRL_SHUTDOWN"])
def test_a_closing_console_is_held_until_the_drive_is_off_and_the_run_is_sealed(
    event: str, children: dict[str, Child], where: Path
) -> None:
    """Windows ends the program when the handler returns; so the seal must stand before."""
    child = children[event]
    assert child.code == 4, child.out + child.err
    assert f"Stopped: {WORDS[event]}" in child.out
    assert f"{event} answered 1 after" in child.err
    assert "handlers left: 0" in child.err
    (run,) = (where / f"{SHELF} {event}").glob("2*")
    assert (run / "seal.json").is_file()
    stops = [
        entry["data"]["what"]
        for line in (run / "journal.jsonl").read_text(encoding="utf-8").splitlines()
        if (entry := json.loads(line))["kind"] == "stop"
    ]
    assert stops[0] == "drive off, speed 0"
    assert "load shed" in stops[1:]
