"""`--help`: what each command does stands whole in the list of commands."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import typer.main

from acquire.cli.main import app, run

COLUMNS = 80


def groups(command: object, *path: str) -> Iterator[tuple[str, ...]]:
    """The path of every command that has commands of its own."""
    inside = getattr(command, "commands", None)
    if inside is not None:
        yield path
        for name, one in inside.items():
            yield from groups(one, *path, name)


GROUPS = sorted(groups(typer.main.get_command(app)))


def listed(text: str) -> list[str]:
    """The lines of the list of commands."""
    return text.partition("Commands:\n")[2].rstrip().splitlines()


def test_the_groups_are_those_of_the_program() -> None:
    assert {("rig",), ("shelf",), ("profiles",), ("key",), ()} <= set(GROUPS)


@pytest.mark.parametrize("path", GROUPS, ids=" ".join)
def test_no_line_of_the_list_of_commands_is_cut_at_80_columns(
    path: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", str(COLUMNS))
    assert run([*path, "--help"]) == 0
    lines = listed(capsys.readouterr().out)
    assert len(lines) >= 2
    for line in lines:
        assert len(line) <= COLUMNS
        assert line.endswith("."), f"cut, or no sentence: {line}"
        assert not line.endswith("..."), f"cut: {line}"
        assert len(line.split()) > 3, f"broken over two lines: {line}"
