"""Pressing Tab: the program is called as the shells call it, and offers names quickly."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
import typer

from acquire.cli import completing
from acquire.cli.main import run
from profiles.catalogue import KINDS, entries
from tests.portability.reach import ROOT

RUNS = (
    "2026-11-24T080000Z-J1207-kqzd",
    "2026-11-25T080000Z-J1208-abcd",
    "2026-11-25T090000Z-unit-abcd",
    "an-older-name",
    ".shelf",
)
FAULT_WORDS = ("open-diode", "open-phase")


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    folder = tmp_path / "Regal ü"
    for name in RUNS:
        (folder / name).mkdir(parents=True)
    (folder / "2026-11-26T080000Z-file-wxyz").write_text("", "utf-8")
    return folder


def called(shell: str, line: str) -> str:
    """What the shell gets for a line; what is being typed is its last word, maybe empty."""
    words = line.split(" ")
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "PYTHONUTF8": "1",
        "_STEADYAMPS_COMPLETE": f"complete_{shell}",
        "COMP_WORDS": "\n".join(words),
        "COMP_CWORD": str(len(words) - 1),
        "_TYPER_COMPLETE_ARGS": line,
        "_TYPER_COMPLETE_FISH_ACTION": "get-args",
        "_TYPER_COMPLETE_WORD_TO_COMPLETE": words[-1],
    }
    code = "from acquire.cli.main import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, check=False,
        encoding="utf-8",
    )  # fmt: skip
    assert done.stderr == ""
    return done.stdout


def test_bash_is_offered_the_names_of_rigs() -> None:
    rigs = {entry.name for entry in entries("rigs") if entry.name.startswith("sim")}
    assert set(called("bash", "steadyamps sweep --rig sim").split()) == rigs


@pytest.mark.parametrize("shell", ["zsh", "fish", "powershell"])
def test_other_shells_are_offered_names_and_what_they_are(shell: str) -> None:
    offered = called(shell, "steadyamps sweep --rated small-frame-14")
    assert "small-frame-14v-90a" in offered
    assert "14 V 45/90 A, small frame" in offered


def test_what_is_typed_before_the_command_is_minded(shelf: Path) -> None:
    """A shelf named before the command; its name has no space here, as bash parts words there."""
    plain = shelf.rename(shelf.with_name("regal"))
    offered = called("bash", f"steadyamps --shelf {plain} verify k").split()
    assert offered == ["kqzd"]


def test_commands_are_offered_too() -> None:
    assert called("bash", "steadyamps sw").split() == ["sweep"]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish", "powershell"])
def test_the_script_that_a_shell_needs_is_shown(shell: str) -> None:
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1",
    }
    code = "from acquire.cli.main import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, "--show-completion", shell],
        env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "_STEADYAMPS_COMPLETE" in done.stdout


def test_a_shell_that_is_not_there_is_a_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """PowerShell is asked where its profile lies; here it cannot be asked."""
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION", "1")
    monkeypatch.setattr("typer.completion._get_shell_name", lambda: "pwsh", raising=False)
    assert run(["--install-completion", "pwsh"]) == 2
    assert "Completion cannot be put in place" in capsys.readouterr().err


# ---- what is offered -----------------------------------------------------------------------


class Root:
    def __init__(self, shelf: Path | None) -> None:
        self.params = {"shelf": None if shelf is None else str(shelf)}

    def find_root(self) -> Root:
        return self


def offered_runs(incomplete: str, shelf: Path | None) -> list[str]:
    context: typer.Context = Root(shelf)  # type: ignore[assignment]
    return [word for word, _ in completing.runs(context, incomplete)]


def test_runs_are_offered_by_their_last_letters_newest_first(shelf: Path) -> None:
    (shelf / "2026-11-26T080000Z-J1-efgh").mkdir()
    assert offered_runs("", shelf) == ["efgh", "kqzd"], "abcd means two runs"
    assert offered_runs("k", shelf) == ["kqzd"]


def test_a_run_whose_letters_are_not_its_own_is_offered_by_its_whole_name(shelf: Path) -> None:
    assert offered_runs("2026-11-25", shelf) == [RUNS[2], RUNS[1]]
    assert offered_runs("an", shelf) == ["an-older-name"]


def test_the_shelf_of_the_settings_is_looked_at(shelf: Path, nobody_elses_settings: Path) -> None:
    settings = nobody_elses_settings / "settings.toml"
    settings.write_text(f"[shelf]\nfolder = '{shelf}'\n", encoding="utf-8")
    assert offered_runs("k", None) == ["kqzd"]


@pytest.mark.parametrize("text", ["not toml [", "shelf = 3", '[shelf]\nfolder = "/nowhere"', ""])
def test_settings_that_cannot_be_used_offer_nothing_and_raise_nothing(
    text: str, nobody_elses_settings: Path
) -> None:
    (nobody_elses_settings / "settings.toml").write_text(text, encoding="utf-8")
    assert offered_runs("", None) == []


def test_profiles_of_the_user_s_own_are_offered(nobody_elses_settings: Path) -> None:
    own = nobody_elses_settings / "rigs"
    own.mkdir()
    (own / "bench-1.toml").write_text('title = "Bench ü"\n', encoding="utf-8")
    (own / "broken.toml").write_bytes(b"\xff\xfe title")
    assert completing.rigs("b") == [
        ("bench-1", "Bench ü"),
        ("broken", ""),
        *[(e.name, e.title) for e in entries("rigs") if e.name.startswith("by-")],
    ]


@pytest.mark.parametrize("kind", KINDS)
def test_titles_seen_at_a_glance_are_the_titles(kind: str) -> None:
    known = next(one for one in KINDS if one == kind)
    glanced = dict(completing.profiles(""))
    for entry in entries(known):
        if len([e for k in KINDS for e in entries(k) if e.name == entry.name]) == 1:
            assert glanced[entry.name] == entry.title


def test_faults_machines_and_words_are_offered() -> None:
    assert {word for word, _ in completing.faults("open-")} == set(FAULT_WORDS)
    assert ("small-frame-14v-90a", "") in completing.machines("small")
    assert completing.one_of("before", "after")("b") == [("before", "")]
    assert completing.kinds("ri") == [("rigs", "")]


def test_offering_imports_nothing_that_takes_time() -> None:
    heavy = ("pydantic", "numpy", "scipy", "rich", "textual", "serial", "sqlalchemy")
    code = (
        "import sys; from acquire.cli import completing as c; c.rigs(''); c.profiles('');"
        "c.faults(''); c.machines(''); import types;"
        "root = types.SimpleNamespace(params={}); root.find_root = lambda: root;"
        f"c.runs(root, ''); print([name for name in {heavy!r} if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
