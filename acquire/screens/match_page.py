"""The match page: figures are typed, answers come as one types."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import events

from acquire.record.bench_time import day_here
from acquire.screens.boxes import Entry
from acquire.screens.match_figures import FIGURES, answer
from acquire.screens.match_view import match_rows, most_scroll
from acquire.screens.memory import NEWEST
from acquire.screens.page import Page
from acquire.screens.ready_page import PickBox
from acquire.screens.rows import Row
from profiles.catalogue import entries
from profiles.errors import BenchError

if TYPE_CHECKING:
    from acquire.match.candidate import Candidate
    from acquire.match.matching import Match

FIGURE_SIGNS = "0123456789."
LONGEST = 10
SCROLL = 8
"""Rows of the answers that a key moves."""


class MatchPage(Page):
    """Which unit serves this engine."""

    name_in_words: ClassVar[str] = "match"
    keys: ClassVar[dict[str, str]] = {
        "up": "up", "down": "down", "enter": "down", "tab": "down", "shift+tab": "up",
        "a": "add", "x": "drop", "backspace": "rub out", "q": "back",
        "pageup": "answers up", "pagedown": "answers down",
    }  # fmt: skip

    def __init__(self, folder: Path | None = None) -> None:
        """`folder`: a run that is matched at once."""
        super().__init__()
        self.at = 0
        self.first = 0
        """Rows of the answers that are scrolled past."""
        self.typed: dict[str, str] = {}
        self.candidates: list[Candidate] = []
        self.result: Match | None = None
        self.wants = ""
        self._folder = folder
        self._asked = threading.Event()
        self._open = True

    def on_mount(self) -> None:
        super().on_mount()
        self.typed = self.bench_app.engine_figures
        threading.Thread(target=self._work, name="match", daemon=True).start()
        if self._folder is not None:
            self._add_in_background(str(self._folder))
        self._asked.set()

    def on_unmount(self) -> None:
        self._open = False
        self._asked.set()

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        return match_rows(
            typed=self.typed, at=self.at, units=[one.title for one in self.candidates],
            result=self.result, wants=self.wants, width=width, height=height,
            first=self.first, said=self.said,
        )  # fmt: skip

    # ---- the answer, in a thread of its own ------------------------------------------------

    def _work(self) -> None:
        """Answer the newest question; the heavy arithmetic never holds the screen up."""
        while self._open:
            self._asked.wait()
            self._asked.clear()
            try:
                self.result, self.wants = answer(dict(self.typed), list(self.candidates)), ""
            except BenchError as error:
                self.result, self.wants = None, str(error)

    def _add_in_background(self, name: str) -> None:
        def work() -> None:
            from acquire.candidates import candidate_from

            try:
                self.candidates.append(candidate_from(name))
            except BenchError as error:
                self.said = str(error)
            self._asked.set()

        threading.Thread(target=work, name="candidate", daemon=True).start()

    # ---- keys ------------------------------------------------------------------------------

    def act_for(self, event: events.Key) -> str:
        if event.character is not None and event.character in FIGURE_SIGNS:
            return f"digit {event.character}"
        return super().act_for(event)

    def _change(self, text: str) -> None:
        self.typed[FIGURES[self.at].name] = text[:LONGEST]
        self._asked.set()

    def act_digit(self, sign: str) -> None:
        """One more sign of the figure."""
        self._change(self.typed.get(FIGURES[self.at].name, "") + sign)

    def act_rub_out(self) -> None:
        """Take the last sign back."""
        self._change(self.typed.get(FIGURES[self.at].name, "")[:-1])

    def act_at(self, number: str) -> None:
        """A click chooses the figure."""
        self.at = int(number)

    def act_up(self) -> None:
        """The figure above."""
        self.at = (self.at - 1) % len(FIGURES)

    def act_down(self) -> None:
        """The figure below."""
        self.at = (self.at + 1) % len(FIGURES)

    def act_answers(self, way: str) -> None:
        """Move the answers up or down."""
        width, height = self.sheet.size
        most = most_scroll(
            result=self.result, wants=self.wants, said=self.said, width=width, height=height
        )
        step = SCROLL if way == "down" else -SCROLL
        self.first = max(min(self.first + step, most), 0)

    def act_add(self) -> None:
        """Add a unit: a rated curve or a past test."""
        rated = [Entry(e.name, e.title or e.name, "rated curve") for e in entries("alternators")]
        runs = [
            Entry(str(run.path), f"{run.title} {day_here(run.began_utc)}", run.outcome or run.state)
            for run in self.bench_app.memory.newest
        ]

        def take(key: str) -> str:
            self._add_in_background(key)
            return ""

        hint = "An older test: open it under past tests and press e." if len(runs) >= NEWEST else ""
        self.bench_app.open_page(PickBox("Which unit?", [*runs, *rated], take, hint=hint))

    def act_drop(self) -> None:
        """Take the last unit off the list."""
        if self.candidates:
            self.candidates.pop()
            self._asked.set()

    def act_back(self) -> None:
        """Back to where one came from; the engine's figures are kept."""
        self.bench_app.go_back(self)
