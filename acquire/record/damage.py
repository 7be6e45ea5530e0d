"""Where a file of a record stops being readable: a record that is whole has no cut line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from acquire.record.cut_tail import CutTail
from acquire.record.json_text import read_bounded
from acquire.record.read_run import Run
from acquire.record.samples import LARGEST_SAMPLES


@dataclass(frozen=True, slots=True)
class Damage:
    """The first line of a file that cannot be read; nothing is read from there on."""

    file: str
    line: int

    def __str__(self) -> str:
        return (
            f"{self.file} is damaged at line {self.line}: nothing was read from there on. "
            "`steadyamps verify` says what was changed; fetch the run from a copy."
        )


def damaged(run: Run) -> Iterator[Damage]:
    """What is damaged in a record; the last line of one that was broken off may be cut.

    Raises:
        RunFileError: If a file can be read no more.
    """
    for tail in run.tails:
        if run.header.state != "running" or b"\n" in tail.raw:
            yield Damage(tail.file, _line_of(run, tail))


def _line_of(run: Run, tail: CutTail) -> int:
    whole = read_bounded(run.folder / tail.file, largest=LARGEST_SAMPLES)[: tail.at_byte]
    return whole.count(b"\n") + 1
