"""Targets: whole commands, with the input among their arguments."""

from __future__ import annotations

import contextlib
import io
import re
import zlib
from collections.abc import Callable, Sequence
from pathlib import Path

from acquire.cli.exit_codes import Exit
from acquire.cli.main import run
from tests.fuzzing.target import NotTaken, Target, claim, text_of

STEERING = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff\ud800-\udfff]"
)
"""Controls of a terminal, marks that turn text round (UAX 9), and halves of characters."""
TYPED = [
    b"1500,2000", b"2.5", b"small-frame-14v-90a", b"45/90A 14V @1500/6000", b"1400..2200",
    b"SN 7/1", b"2026-11", b"within-10-percent", b"points.csv", b"open-diode@3", b"--help", b"-1",
    b"pass", b"no such run", b"en", b"~nobody-here/x", b"{value}", b"100%", b"[red]x[/red]",
]  # fmt: skip


class Commands:
    """Commands that only read, on a shelf and a file of their own."""

    def __init__(self, folder: Path, finished: Path) -> None:
        self._shelf = folder / "shelf of commands"
        self._shelf.mkdir()
        self._points = folder / "points of commands.csv"
        self._points.write_text("shaft_rpm,amps\n1500,45\n2000,61\n3000,78\n6000,91\n")
        self._finished = finished

    def _lines(self, text: str) -> Sequence[Sequence[str]]:
        points, rated = str(self._points), "small-frame-14v-90a"
        engine = ("--idle", "700", "--cruise", "1400..2200", "--top", "3600")
        return (
            ("fit", points, "--at", text),
            ("fit", text),
            ("judge", points, "--rated", text),
            ("judge", points, "--rated", rated, "--rule", text),
            ("judge", text, "--rated", rated),
            ("match", text, "--ratio", "2.5", *engine),
            ("match", rated, "--ratio", text, *engine),
            ("match", rated, "--ratio", "2.5", "--idle", text, *engine[2:]),
            ("match", rated, "--ratio", "2.5", "--idle", "700", "--cruise", text, "--top", "3600"),
            ("match", rated, "--ratio", "2", *engine, "--bank-ah", text, "--used-ah", "50"),
            ("shelf", "search", text, "--since", text),
            ("shelf", "search", "--serial", text, "--outcome", text),
            ("shelf", "show", text),
            ("shelf", "list", "--limit", text),
            ("profiles", "check", text),
            ("profiles", "list", text),
            ("verify", text),
            ("replay", text),
            ("compare", str(self._finished), text),
            (text,),
        )

    def feed(self, data: bytes) -> None:
        """It ends with an exit code of ours, and prints nothing that steers a terminal."""
        text = text_of(data).replace("\0", "")
        lines = self._lines(text)
        arguments = lines[zlib.crc32(data) % len(lines)]
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = run(["--shelf", str(self._shelf), *arguments])
        claim(code in {int(one) for one in Exit}, f"exit code {code} of {arguments[0]}")
        for name, said in (("stdout", out.getvalue()), ("stderr", err.getvalue())):
            found = STEERING.search(said)
            claim(found is None, f"{name} steers: {found and ascii(found[0])} by {arguments[:3]}")
        if code == Exit.USAGE:
            said = out.getvalue() + err.getvalue()
            claim(bool(said.strip()), "refused without a word")
            raise NotTaken("usage")


def targets(folder: Path, finished: Path) -> list[Target]:
    """The target of the commands; no error of theirs ever leaves `run`."""
    feed: Callable[[bytes], None] = Commands(folder, finished).feed
    return [Target("commands", TYPED, feed, family=(), share=0.05, longest=5000)]
