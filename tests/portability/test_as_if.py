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
    "windows": ("win32", "run", "--", "--shelf", f"{SHELF} windows", *SWEEP),
    "mac": ("darwin", "run", "--", "--shelf", f"{SHELF} mac", *SWEEP),
    **{
        event: ("win32", "run", f"{event}@run drive", "--", "--shelf", f"{SHELF} {event}", *SWEEP)
        for event in ("CTRL_C", "CTRL_BREAK", "CTRL_CLOSE", "CTRL_LOGOFF", "CTRL_SHUTDOWN")
    },
}


class Child:
    """One child: its exit code, and what it said, which goes to files: none waits to be read."""

    def __init__(self, name: str, where: Path) -> None:
        self.name = name
        self._out, self._err = where / f"{name} says.txt", where / f"{name} complains.txt"
        environment = {
            **os.environ,
            "PYTHONPATH": str(ROOT),
            "STEADYAMPS_CONFIG": str(where / "own"),
            "PYTHONUTF8": "1",
        }
        with self._out.open("wb") as out, self._err.open("wb") as err:
            self._running = subprocess.Popen(
                [sys.executable, "-W", "error", "-m", "tests.portability.as_if", *CHILDREN[name]],
                cwd=where, env=environment, stdin=subprocess.DEVNULL, stdout=out, stderr=err,
            )  # fmt: skip

    @property
    def code(self) -> int:
        """Waits for its end."""
        return self._running.wait(timeout=240.0)

    @property
    def out(self) -> str:
        return self._out.read_text(encoding="utf-8")

    @property
    def err(self) -> str:
        return self._err.read_text(encoding="utf-8")

    def end(self) -> None:
        """At once, where it still runs."""
        self._running.kill()
        self._running.wait()


@pytest.fixture(scope="module")
def where(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("elsewhere")


def asked_for(items: list[pytest.Item]) -> list[str]:
    """The children whose tests have been chosen to run here."""
    calls = [getattr(item, "callspec", None) for item in items if item.path == Path(__file__)]
    names = {call.params.get("child") for call in calls if call is not None}
    return [name for name in CHILDREN if name in names]


@pytest.fixture(scope="module")
def children(where: Path, request: pytest.FixtureRequest) -> Iterator[dict[str, Child]]:
    """All that are asked for at once: they mostly wait."""
    started: dict[str, Child] = {}
    try:
        for name in asked_for(request.session.items):
            started[name] = Child(name, where)
        yield started
    finally:
        for child in started.values():
            child.end()


@pytest.fixture
def child(request: pytest.FixtureRequest, children: dict[str, Child]) -> Child:
    return children[request.param]


def of(*names: str) -> pytest.MarkDecorator:
    """The test runs with each of these children."""
    return pytest.mark.parametrize("child", names, indirect=True)


def test_only_the_children_of_the_chosen_tests_are_started(request: pytest.FixtureRequest) -> None:
    chosen = [item for item in request.session.items if item.path == Path(__file__)]
    in_brackets = {item.name.partition("[")[2].removesuffix("]") for item in chosen}
    assert asked_for(chosen) == [name for name in CHILDREN if name in in_brackets]
    assert asked_for([]) == []


def test_a_child_nobody_waits_for_is_ended(where: Path) -> None:
    child = Child("windows imports", where)
    child.end()
    assert child.code != 0
    assert "imported" not in child.out


@of("windows sees")
def test_what_the_program_sees_is_windows(child: Child) -> None:
    assert child.code == 0, child.err
    assert json.loads(child.out) == {
        "platform": "win32",
        "signals": ["SIGBREAK", "SIGINT", "SIGTERM"],
        "folder_opens": False,
        "fcntl": False,
        "the_real_platform": sys.platform,
    }


@of("mac sees")
def test_what_the_program_sees_is_macos(child: Child) -> None:
    assert child.code == 0, child.err
    assert json.loads(child.out)["platform"] == "darwin"


@of("windows imports", "mac imports")
def test_every_module_imports(child: Child) -> None:
    assert child.code == 0, child.err
    assert int(child.out.removeprefix("imported ")) > 300


@of("windows imports all")
def test_the_one_module_for_posix_says_so_on_windows(child: Child) -> None:
    assert child.code != 0
    assert "no pseudo-terminals" in child.err


@of("windows", "mac")
def test_a_simulated_sweep_runs_to_its_verdict(child: Child, where: Path) -> None:
    assert child.code == 0, child.out + child.err
    assert "Passes." in child.out
    assert "handlers left: 0" in child.err
    runs = list((where / f"{SHELF} {child.name}").glob("*/seal.json"))
    assert len(runs) == 1
    assert not list((where / f"{SHELF} {child.name}").rglob("*.part"))


CTRL_KEYS = {"CTRL_C": "Ctrl-C", "CTRL_BREAK": "Ctrl-Break"}


@of(*CTRL_KEYS)
def test_ctrl_c_and_ctrl_break_stop_the_run(child: Child) -> None:
    assert child.code == 4, child.out + child.err
    assert f"Stopped: {CTRL_KEYS[child.name]} was pressed" in child.out


@of("CTRL_CLOSE", "CTRL_LOGOFF", "CTRL_SHUTDOWN")
def test_a_closing_console_is_held_until_the_drive_is_off_and_the_run_is_sealed(
    child: Child, where: Path
) -> None:
    """Windows ends the program when the handler returns; so the seal must stand before."""
    event = child.name
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
