"""README.md taken apart: its fenced blocks, the commands in them, and what it says they print."""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass, field
from pathlib import Path

README = Path(__file__).parents[2] / "README.md"
_FENCE = re.compile(r"^```(\S+)[ \t]*(\S*)\n(.*?)^```$", re.M | re.S)
_PROMPT = "$ "
_CODE = re.compile(r"\s+# exit code (\d+)$")
ANYTHING = "..."
"""In what a command prints: whatever stands here."""


@dataclass(frozen=True, slots=True)
class Block:
    """One fenced block: its language, the file it shows (or none), its text."""

    language: str
    file: str
    text: str


@dataclass(frozen=True, slots=True)
class Shown:
    """A command as README shows it, the exit code it promises, and the lines it prints."""

    command: str
    exit_code: int
    output: list[str] = field(default_factory=list)

    @property
    def arguments(self) -> list[str]:
        """Its words after the name of the program."""
        return shlex.split(self.command)[1:]


def text() -> str:
    """The whole of README.md."""
    return README.read_text(encoding="utf-8")


def blocks(*languages: str) -> list[Block]:
    """All fenced blocks of these languages, in order; of all where none is named."""
    found = [Block(*match.groups()) for match in _FENCE.finditer(text())]
    return [block for block in found if not languages or block.language in languages]


def files() -> dict[str, str]:
    """The files README shows, by name."""
    return {block.file: block.text for block in blocks("toml", "csv")}


def commands(*languages: str) -> list[Shown]:
    """Every command that stands behind a `$` in blocks of these languages."""
    shown: list[Shown] = []
    for block in blocks(*languages):
        for line in block.text.splitlines():
            if line.startswith(_PROMPT):
                shown.append(_command(line.removeprefix(_PROMPT)))
            elif shown:
                shown[-1].output.append(line.rstrip())
    return shown


def _command(line: str) -> Shown:
    code = _CODE.search(line)
    return Shown(_CODE.sub("", line), int(code[1]) if code else 0)


def tells(printed: str, shown: list[str]) -> str:
    """The first shown line that `printed` does not have in its place; empty when all are there.

    A line `...` stands for any lines, `...` within a line for any text.
    """
    lines = [line.rstrip() for line in printed.splitlines()]
    place, may_skip = 0, False
    for wanted in shown:
        if wanted.strip() == ANYTHING:
            may_skip = True
            continue
        pattern = re.compile(".*".join(map(re.escape, wanted.split(ANYTHING))))
        last = len(lines) if may_skip else min(place + 1, len(lines))
        hit = next((at for at in range(place, last) if pattern.fullmatch(lines[at])), None)
        if hit is None:
            return wanted
        place, may_skip = hit + 1, False
    return "" if may_skip or place == len(lines) else f"(then more: {lines[place]})"
