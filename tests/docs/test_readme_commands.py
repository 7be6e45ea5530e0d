"""Every command of README.md is run, with the files README shows; or at least it exists."""

from __future__ import annotations

import re
import shutil
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

import pytest

from acquire.cli.main import run
from tests.docs import readme

ROOT = readme.README.parent
RUN = readme.commands("console")
SHOWN = readme.commands("text", "sh", "console")
_OPTION = re.compile(r"--[a-z][a-z-]*")
_COPIED = re.compile(r"^cp -r (\S+) (\S+)$", re.M)
_SPAN = re.compile(r"`(?:steadyamps )?([a-z]+(?: [a-z]+)?)((?: [^`]*)?)`")


@dataclass(frozen=True, slots=True)
class Said:
    """What a command printed, and its exit code."""

    code: int
    out: str
    err: str


def said(arguments: list[str]) -> Said:
    """Run one command of the program in this process."""
    out, err = StringIO(), StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = run(arguments)
    return Said(code, out.getvalue(), err.getvalue())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder as the reader has it: the sample runs, and the files README shows."""
    folder = tmp_path_factory.mktemp("desk")
    shutil.copytree(ROOT / "sample_runs", folder / "sample_runs")
    for name, content in readme.files().items():
        (folder / name).write_text(content, encoding="utf-8")
    rigs = folder / "config" / "rigs"
    rigs.mkdir(parents=True)
    (folder / "bench-1.toml").rename(rigs / "bench-1.toml")  # where `rig new` writes it
    for source, copy in _COPIED.findall("".join(block.text for block in readme.blocks("sh"))):
        shutil.copytree(folder / source, folder / copy)
    return folder


@pytest.fixture
def desk(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """That folder as the current one, with settings that last from command to command."""
    monkeypatch.chdir(folder)
    monkeypatch.setenv("STEADYAMPS_CONFIG", str(folder / "config"))
    monkeypatch.setenv("COLUMNS", "160")
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "data"))
    return folder


@pytest.mark.usefixtures("desk")
@pytest.mark.parametrize("shown", RUN, ids=lambda shown: shown.command)
def test_a_command_of_readme_prints_what_readme_says(shown: readme.Shown) -> None:
    came = said(shown.arguments)
    assert came.code == shown.exit_code, came.err
    assert readme.tells(came.out, shown.output) == "", came.out


def _masked(line: str) -> str:
    """A line without its figures and its spacing."""
    return " ".join(re.sub(r"[<>]?[0-9]+(?:\.[0-9]+)?", "#", line).split())


@pytest.mark.usefixtures("desk")
def test_the_result_shown_has_the_shape_of_a_real_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "92")
    first = readme.blocks("sh")[0].text.splitlines()[1]
    came = said(["--shelf", str(tmp_path), *first.split()[1:]])
    assert came.code == 0, came.err
    printed = {_masked(line) for line in came.out.splitlines()}
    shown = readme.blocks("text")[0].text
    paragraphs = [" ".join(part.split()) for part in shown.split("\n\n")]
    table, said_below = paragraphs[2], paragraphs[3]
    assert _masked(paragraphs[0]) in printed
    assert "speed amps rated allowed margin sure" in table
    for line in [*shown.split("\n\n")[2].splitlines(), said_below.partition(" ! ")[0]]:
        assert _masked(line) in printed
    assert _masked("! " + said_below.partition(" ! ")[2]) in printed
    assert _masked(paragraphs[4]) in printed


def test_readme_runs_commands_at_all() -> None:
    assert len(RUN) >= 12
    assert any(shown.exit_code for shown in RUN)
    assert all(shown.command.startswith("steadyamps ") for shown in RUN)


@pytest.mark.parametrize(
    ("printed", "shown"),
    [
        ("one\ntwo\n", ["one"]),
        ("one\ntwo\n", ["two"]),
        ("one\ntwo\n", ["...", "three", "..."]),
        ("one 1.5 A\n", ["one 1.6 ..."]),
    ],
)
def test_a_wrong_promise_is_noticed(printed: str, shown: list[str]) -> None:
    assert readme.tells(printed, shown) != ""


BAD_RIG = """
title = "Bench 2"
[rig]
pully = { drive_mm = 180, alternator_mm = 60 }
[channels.shaft_rpm]
driver = "lines"
port = "COM7"
pattern = 'RPM=\\d+'
[channels.amps]
driver = "hand"
in = "volt"
"""
DECIMAL_COMMA = 'shaft_rpm,amps\n1500,"44,1"\n'
PLATE = "45/90A 13.5V @1500/6000"
PASSED = "sample_runs/pass-van-alternator"
PROVOKED: dict[str, list[str]] = {
    'is not a key known here. Did you mean "pulley"?': ["profiles", "check", "bad.toml"],
    "does not say which part is the value": ["profiles", "check", "bad.toml"],
    "is no unit of measure for output current": ["profiles", "check", "bad.toml"],
    "The cautions were not confirmed and nobody can be asked": [
        *("sweep", "--rig", "by-hand", "--rated", PLATE),
    ],
    "there is no rated curve of this name, and no such file": [
        *("judge", "points.csv", "--rated", "smal-frame"),
    ],
    "does not say at which speeds it gives this": [
        *("judge", "points.csv", "--rated", "45/90A 14V"),
    ],
    "names no speeds and no rated curve is given": ["sweep", "--rig", "by-hand", "--yes"],
    "is complete; there is nothing to resume": ["resume", PASSED, "--yes"],
    "is not a number. Write decimals with a dot": ["judge", "comma.csv", "--rated", PLATE],
    "changed: its content is not what was sealed": ["verify", "edited"],
}
"""Message as README quotes it, and a command that draws it."""


@pytest.mark.parametrize("message", PROVOKED)
def test_a_message_in_readme_is_what_the_program_says(message: str, desk: Path) -> None:
    assert f"`{message}`" in readme.text()
    (desk / "bad.toml").write_text(BAD_RIG, encoding="utf-8")
    (desk / "comma.csv").write_text(DECIMAL_COMMA, encoding="utf-8")
    shutil.copytree(desk / PASSED, desk / "edited", dirs_exist_ok=True)
    curve = desk / "edited" / "curve.csv"
    curve.write_bytes(curve.read_bytes().replace(b"1500", b"1501"))
    came = said(["--shelf", str(desk / "shelf"), *PROVOKED[message]])
    assert came.code != 0
    assert message in came.out + came.err


def _of_program(command: str) -> list[str]:
    """The words of a command after `steadyamps`, without global options; empty for others."""
    words = command.split()
    if not words or words[0].rpartition("/")[2] != "steadyamps":
        return []
    return [word for word in words[1:] if word != "--json"]


def _help(words: list[str]) -> str:
    """The help of the command that `words` begin with, whether one word or two."""
    one = said([words[0], "--help"])
    assert one.code == 0, f"{words[0]}: {one.err}"
    if "Commands:" not in one.out:
        return one.out
    two = said([*words[:2], "--help"])
    assert two.code == 0, f"{words[:2]}: {two.err}"
    return two.out


def _mentioned() -> list[str]:
    """Commands in blocks and in backticks, as text; options stand with them."""
    lines = [line.strip() for block in readme.blocks("sh") for line in block.text.splitlines()]
    spans = re.findall(r"`(steadyamps [a-z][^`]*)`", readme.text())
    parts = [part.strip() for line in lines for part in line.split("&&")]
    return [*parts, *spans, *(shown.command for shown in SHOWN)]


COMMANDS = sorted({command for command in _mentioned() if _of_program(command)})


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_in_readme_exists_with_its_options(command: str) -> None:
    words = _of_program(command)
    listed = _help(words)
    for option in _OPTION.findall(" ".join(words)):
        assert re.search(rf"{option}\b", listed), f"{command}: no {option}"


def test_every_option_in_readme_is_one_of_the_program() -> None:
    prose = re.sub(r"^```.*?^```$", "", readme.text(), flags=re.M | re.S)
    helped = [said(["--help"]).out, *(_help(_of_program(command)) for command in COMMANDS)]
    for option in set(_OPTION.findall(" ".join(re.findall(r"`[^`\n]+`", prose)))) - {"--help"}:
        assert any(re.search(rf"{option}\b", text) for text in helped), option
