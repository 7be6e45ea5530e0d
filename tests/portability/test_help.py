"""Every command explains itself: each option and argument has words, each command an example."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from typing import Any

import pytest
import typer

from acquire.cli.main import app, run

EXAMPLE = re.compile(r"^Example: (steadyamps(?: .*?)?)(?:\n\n|\Z)", re.MULTILINE | re.DOTALL)


def commands(command: Any, *path: str) -> Iterator[tuple[str, Any]]:
    yield " ".join(path), command
    for name, inner in getattr(command, "commands", {}).items():
        yield from commands(inner, *path, name)


TREE = dict(commands(typer.main.get_command(app), "steadyamps"))


def example(command: Any) -> str:
    found = EXAMPLE.search(command.help or "")
    assert found, "no line that begins with Example:"
    return " ".join(found[1].split())


def test_the_tree_is_walked_to_its_leaves() -> None:
    assert len(TREE) > 25
    assert {"steadyamps rig study", "steadyamps key new", "steadyamps sweep"} <= TREE.keys()


@pytest.mark.parametrize("name", TREE)
def test_the_help_has_a_sentence_and_an_example(name: str) -> None:
    sentence = (TREE[name].help or "").strip().splitlines()[0]
    assert sentence.endswith((".", "?"))
    assert example(TREE[name]).startswith(f"{name} ") or example(TREE[name]) == name


@pytest.mark.parametrize("name", TREE)
def test_every_option_and_argument_has_words(name: str) -> None:
    silent = [p.name for p in TREE[name].params if not (getattr(p, "help", "") or "").strip()]
    assert silent == []


@pytest.mark.parametrize("name", TREE)
def test_the_example_can_be_typed_as_it_stands(name: str) -> None:
    """Parsed down to the command it ends at; nothing is carried out."""
    words = shlex.split(example(TREE[name]).partition(" > ")[0])[1:]
    command: Any = TREE["steadyamps"]
    context = None
    while hasattr(command, "commands"):
        at = next((k for k, word in enumerate(words) if word in command.commands), None)
        if at is None:
            break
        context = command.make_context("steadyamps", words[: at + 1], parent=context)
        command, words = command.commands[words[at]], words[at + 1 :]
    assert command.make_context("steadyamps", words, parent=context).command is command


@pytest.mark.parametrize("name", TREE)
def test_the_help_is_printed_with_its_example(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([*name.split()[1:], "--help"]) == 0
    told = capsys.readouterr().out
    assert "Usage: " in told
    assert "Example: steadyamps" in told
