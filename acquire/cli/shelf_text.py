"""Runs of the shelf as lines of text."""

from __future__ import annotations

import contextlib
import shutil
import sys
import time
from collections.abc import Iterator, Mapping
from datetime import timedelta
from pathlib import Path

from acquire.cli.command_line import command_line
from acquire.cli.voice import is_terminal
from acquire.record.bench_time import moment_words
from acquire.record.claim import being_written
from acquire.record.run_header import read_header
from acquire.record.samples import SAMPLES_FILE
from acquire.record.seal_words import SealWords
from acquire.shelf.entry import RunEntry
from acquire.shelf.pairs import Partners
from acquire.shelf.shelf import Page
from profiles.errors import BenchError
from profiles.plain_text import visible

PLAIN_WIDTH = 120
_TELL_EVERY_S = 0.2
_FIXED = (("began (UTC)", 16), ("serial", 14), ("unit", 0), ("stage", 9), ("job", 10),
          ("outcome", 12), ("run", 4))  # fmt: skip
SIGNS = {"pass": "=", "fail": "!", "undecided": "~"}


def page_lines(page: Page, partners: Mapping[str, Partners], *, place: Path) -> list[str]:
    """A table of one page, and where one is."""
    if page.total == 0:
        return [f"No runs found on the shelf {visible(str(place))}."]
    unit_width = max(12, _width() - sum(size + 2 for _name, size in _FIXED) - 2)
    sizes = [size or unit_width for _name, size in _FIXED]
    heading = _line([name for name, _size in _FIXED], sizes)
    rows = [_line(_cells(one, partners), sizes) for one in page.entries]
    counted = "1 run" if page.total == 1 else f"{page.total} runs"
    if not rows:
        return [f"There is no page {page.number}: {counted}, the last page is {page.pages}."]
    where = f"{counted}; page {page.number} of {page.pages}."
    if not page.exact:
        where = f"More than {counted}; page {page.number}."
    paired = any(one.run_id in partners for one in page.entries)
    marks = ["* has a run before or after the rebuild to compare with: `shelf show`."]
    return [heading, *rows, "", *(marks if paired else []), where]


def _width() -> int:
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else PLAIN_WIDTH


def _cells(entry: RunEntry, partners: Mapping[str, Partners]) -> list[str]:
    outcome = f"{SIGNS.get(entry.outcome, '.')} {entry.outcome_word}"
    unit = entry.what_unit
    return [
        entry.began_utc[:16].replace("T", " "),
        entry.serial or "-",
        f"(SIMULATED) {unit}" if entry.simulated else unit,
        (entry.stage or "-") + ("*" if entry.run_id in partners else ""),
        entry.job_number or "-",
        outcome,
        entry.run_id[-4:],
    ]


def _line(cells: list[str], sizes: list[int]) -> str:
    return "  ".join(_fit(cell, size) for cell, size in zip(cells, sizes, strict=True)).rstrip()


def _fit(text: str, size: int) -> str:
    return text.ljust(size) if len(text) <= size else text[: size - 1] + "…"


def run_lines(entry: RunEntry, partners: Partners, seal: SealWords) -> list[str]:
    """Everything the index has of one run, and its seal."""
    simulated = "SIMULATED: " if entry.simulated else ""
    lines = [f"{simulated}{entry.title}: {entry.outcome_word}"]
    if seal.broken:
        lines.insert(0, f"! {seal.words} This may not be what was measured.")
    if entry.reason:
        lines.append(entry.reason)
    lines += ["", *(f"{name:<14}{value}" for name, value in _facts(entry) if value)]
    lines.append(f"{'seal':<14}{seal.words}")
    for name, one in (("before", partners.before), ("after", partners.after)):
        if one is not None:
            lines.append(f"{name:<14}{one.run_id} ({one.outcome_word})")
    before, after = partners.before or entry, partners.after or entry
    if before is not after and before.is_here and after.is_here:
        lines += ["", "This shows the change:", command_line("compare", before.path, after.path)]
    if _cut_off(entry):
        lines += ["", "This goes on with it:", command_line("resume", entry.path)]
    return lines


def _facts(entry: RunEntry) -> Iterator[tuple[str, str | None]]:
    offset = _bench_offset(entry)
    yield "began", moment_words(entry.began_utc, offset)
    yield "ended", moment_words(entry.ended_utc, offset) if entry.ended_utc else None
    yield "state", _state(entry)
    for name in ("serial", "unit"):
        yield name, getattr(entry, name)
    yield "job", entry.job_number
    yield "customer", entry.customer
    yield "fitted to", entry.fitted_to
    yield "complaint", entry.complaint
    yield "parts fitted", entry.parts_fitted
    for name in ("claim", "stage", "operator", "rig", "rated", "method", "rule"):
        yield name, getattr(entry, name)
    if entry.top_amps is not None and entry.top_rpm is not None:
        yield "most", f"{entry.top_amps:.1f} A at {entry.top_rpm:.0f} rpm"
    if entry.least_margin_amps is not None:
        yield "least margin", f"{entry.least_margin_amps:+.1f} A"
    if entry.cut_in_rpm is not None:
        yield "cut-in speed", f"{entry.cut_in_rpm:.0f} rpm"
    yield "findings", entry.findings
    yield "bench", entry.bench
    yield "run folder", str(entry.path)


def _bench_offset(entry: RunEntry) -> timedelta | None:
    """How far the bench's time was ahead of UTC: the folder knows, the index does not."""
    if entry.is_here:
        with contextlib.suppress(BenchError, OSError):  # what is wrong with it, the seal tells
            return read_header(entry.path).utc_offset
    return None


def _state(entry: RunEntry) -> str:
    return "cut off" if _cut_off(entry) else entry.state


def _cut_off(entry: RunEntry) -> bool:
    """True of a run that says running while nobody writes it."""
    samples = entry.path / SAMPLES_FILE
    return entry.is_here and entry.state == "running" and being_written(samples) is False


class Counter:
    """Says how far long work is, on a terminal."""

    def __init__(self, what: str) -> None:
        self._what = what
        self._shown_s = time.monotonic()
        self._shown = False

    def of(self, done: int, total: int) -> None:
        """So many of so many."""
        self._show(f"{done} of {total} {self._what}")

    def at(self, done: int) -> None:
        """So many so far."""
        self._show(f"{done} {self._what}")

    def _show(self, words: str) -> None:
        now_s = time.monotonic()
        if not is_terminal(sys.stderr) or now_s - self._shown_s < _TELL_EVERY_S:
            return
        self._shown, self._shown_s = True, now_s
        print(f"\r{words}  ", end="", file=sys.stderr, flush=True)

    def end(self) -> None:
        """Leave the line."""
        if self._shown:
            print(file=sys.stderr)
