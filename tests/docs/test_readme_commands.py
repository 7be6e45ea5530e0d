"""Every command of README.md is run, with the files README shows; or at least it exists."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
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
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder as the reader has it: sample runs, README's files, no settings, wide terminal."""
    folder = tmp_path_factory.mktemp("desk")
    shutil.copytree(ROOT / "sample_runs", folder / "sample_runs")
    for name, content in readme.files().items():
        (folder / name).write_text(content, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("STEADYAMPS_CONFIG", str(folder / "config"))
        patch.setenv("COLUMNS", "160")
        yield folder


@pytest.mark.usefixtures("desk")
@pytest.mark.parametrize("shown", RUN, ids=lambda shown: shown.command)
def test_a_command_of_readme_prints_what_readme_says(shown: readme.Shown) -> None:
    came = said(shown.arguments)
    assert came.code == shown.exit_code, came.err
    assert readme.tells(came.out, shown.output) == "", came.out


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
