"""Past tests: search, open, compare."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import ClassVar

from textual import events

from acquire.screens.page import Page
from acquire.screens.past_view import past_rows
from acquire.screens.rows import Row
from acquire.screens.shelf_glance import Glance


class PastPage(Page):
    """Every run on the shelf."""

    name_in_words: ClassVar[str] = "past tests"
    keys: ClassVar[dict[str, str]] = {
        "up": "move up", "down": "move down", "pageup": "move far up", "pagedown": "move far down",
        "home": "move first", "end": "move last", "enter": "open", "slash": "search",
        "c": "compare", "r": "report", "q": "back",
    }  # fmt: skip

    def __init__(self) -> None:
        super().__init__()
        self.search = ""
        self.searching = False
        self.at = 0
        self.marked: Path | None = None

    def on_mount(self) -> None:
        super().on_mount()
        self.bench_app.memory.refresh()

    def shown(self) -> list[Glance]:
        """The runs that hold every word of the search."""
        runs = self.bench_app.memory.runs
        return [run for run in runs if run.holds(self.search)] if self.search else list(runs)

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        memory = self.bench_app.memory
        shown = self.shown()
        self.at = max(0, min(self.at, len(shown) - 1))
        return past_rows(
            shown, at=self.at, search=self.search, searching=self.searching, marked=self.marked,
            read=memory.read, total=len(memory.runs), said=self.said, width=width, height=height,
        )  # fmt: skip

    def act_for(self, event: events.Key) -> str:
        if not self.searching or event.key in ("up", "down", "pageup", "pagedown"):
            return super().act_for(event)
        match event.key:
            case "enter":
                return "end search"
            case "escape":
                return "all"
            case "backspace":
                self.search = self.search[:-1]
            case _ if event.character is not None and event.is_printable:
                self.search += event.character
        self.at = 0
        return "nothing"

    def act_nothing(self) -> None:
        """A letter of the search."""

    def act_move(self, way: str) -> None:
        """Up and down the list."""
        last = max(len(self.shown()) - 1, 0)
        to = {"up": self.at - 1, "down": self.at + 1, "far up": self.at - 10,
              "far down": self.at + 10, "first": 0, "last": last}[way]  # fmt: skip
        self.at = max(0, min(to, last))

    def act_search(self) -> None:
        """Type a part of a name."""
        self.searching, self.search = True, ""

    def act_end_search(self) -> None:
        """The letters are keys again."""
        self.searching = False

    def act_all(self) -> None:
        """Show all runs again."""
        self.searching, self.search = False, ""

    def act_open(self, number: str = "") -> None:
        """Open the run picked."""
        shown = self.shown()
        if number:
            self.at = int(number)
        if shown:
            self.bench_app.show_run(shown[self.at].folder)

    def act_compare(self) -> None:
        """Mark a run, or compare the one picked with the one marked."""
        shown = self.shown()
        if not shown:
            return
        picked = shown[self.at].folder
        if self.marked is None:
            self.marked = picked
            self.said = "Marked. Go to the other run and press c again."
        elif self.marked == picked:
            self.marked, self.said = None, "The mark is taken back."
        else:
            earlier, later = sorted((self.marked, picked), key=lambda f: f.name)
            self.marked = None
            self.bench_app.show_run(later, before=earlier)

    def act_report(self) -> None:
        """Write the report of the run picked."""
        shown = self.shown()
        if not shown:
            return
        from acquire.screens.report_files import write_report

        folder = shown[self.at].folder
        self.said = "The report is being written."
        self.bench_app.behind(self, lambda: write_report(folder))

    def act_back(self) -> None:
        """Back to where one came from."""
        self.bench_app.go_back(self)
