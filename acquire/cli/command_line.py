"""A command offered for copying: on a line of its own, quoted for the shell, never broken."""

from __future__ import annotations

import shlex
import subprocess
import sys

INDENT = "    "
WHOLE = (f"{INDENT}steadyamps ", "Run folder: ")
"""Lines that begin so are not broken at the edge of a terminal: they are there to be copied."""


def command_line(*words: object) -> str:
    """The line that runs `steadyamps` with these words, each quoted where the shell needs it."""
    plain = ["steadyamps", *map(str, words)]
    quoted = subprocess.list2cmdline(plain) if sys.platform == "win32" else shlex.join(plain)
    return f"{INDENT}{quoted}"
