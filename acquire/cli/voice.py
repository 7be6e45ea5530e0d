"""How commands speak: results on stdout, talk on stderr; with --json one document on stdout."""

from __future__ import annotations

import json
import math
import os
import sys
from dataclasses import dataclass
from typing import TextIO

from acquire.cli.command_line import WHOLE
from acquire.record.json_text import without_steering
from profiles.errors import BenchError
from profiles.plain_text import visible_lines


@dataclass(slots=True)
class Voice:
    """What every command is given: where to speak, and the global options."""

    json: bool = False
    shelf: str | None = None
    mouse: bool = True
    """False: the screens leave the mouse to the terminal, for marking and copying."""
    glyphs: str | None = None
    """`full` or `ascii`; None: by the terminal."""
    light: bool | None = None
    """Light paper for the screens; None: by the terminal."""

    def result(self, text: str) -> None:
        """A result in words; goes to stderr when a JSON document is wanted."""
        stream = sys.stderr if self.json else sys.stdout
        print(wrapped(visible_lines(text), stream), file=stream)

    def talk(self, text: str) -> None:
        """Progress, cautions, hints."""
        print(wrapped(visible_lines(text), sys.stderr), file=sys.stderr, flush=True)

    def document(self, value: object) -> None:
        """The one JSON document on stdout, when asked for."""
        if self.json:
            text = json.dumps(plain(value), ensure_ascii=False, indent=1, allow_nan=False)
            sys.stdout.write(f"{without_steering(text)}\n")
            sys.stdout.flush()


def refusal(kind: str, message: str, what_to_do: str = "") -> dict[str, object]:
    """The document of a command that could not be done."""
    said = {"kind": kind, "message": message, "what_to_do": what_to_do or None}
    return {"error": said}


def refusal_of(error: BenchError) -> dict[str, object]:
    """The same of an error of ours."""
    return refusal(type(error).__name__, error.what_was_wrong, error.what_to_do)


def wrapped(text: str, stream: TextIO) -> str:
    """Long lines broken between words, on a terminal; elsewhere the text stays as it is."""
    if not stream.isatty():
        return text
    import shutil
    import textwrap

    width = max(shutil.get_terminal_size((80, 24)).columns - 1, 20)
    lines: list[str] = []
    for line in text.split("\n"):
        indent = " " * (len(line) - len(line.lstrip(" -!")))
        folded = textwrap.wrap(
            line, width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
        )
        whole = len(line) <= width or line.startswith(WHOLE)
        lines += [line] if whole else folded
    return "\n".join(lines)


def plain(value: object) -> object:
    """`value` as JSON knows it: what is not a finite number becomes null."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if value is None or isinstance(value, str | int | bool):
        return value
    return str(value)


def is_terminal(stream: TextIO) -> bool:
    """True where `stream` is a terminal that can redraw lines."""
    return stream.isatty() and os.environ.get("TERM", "") != "dumb"
