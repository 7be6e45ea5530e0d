"""Past tests: search, open, compare."""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import ClassVar

from textual import events

from acquire.record.seal_words import SealWords, look_at_seal
from acquire.screens.page import Page
from acquire.screens.past_facts import PastFacts
from acquire.screens.past_view import past_rows
from acquire.screens.rows import Row
from acquire.screens.search_words import wanted_from
from acquire.screens.shelf_asking import Answer, Question, ShelfAsker
from acquire.shelf.entry import RunEntry
from acquire.shelf.errors import ShelfError
from acquire.shelf.wanted import Wanted

AGAIN_S = 1.0
REST_S = 0.3
"""The seal of a run that one only passes by is not looked at [s]."""
LONGEST = 200
MOVES = ("up", "down", "pageup", "pagedown")


class PastPage(Page):
    """Every run on the shelf, a window of them at a time.

    The list is asked for behind the page, one question at a time; the newest answer counts. `keep`
    is the run the operator moved to last: the list stays at it while it grows or is searched.
    """

    name_in_words: ClassVar[str] = "past tests"
    keys: ClassVar[dict[str, str]] = {
        "up": "move up", "down": "move down", "pageup": "move far up", "pagedown": "move far down",
        "home": "move first", "end": "move last", "enter": "open", "slash": "search",
        "c": "compare", "b": "together", "r": "report", "q": "leave", "escape": "back",
    }  # fmt: skip

    def __init__(self) -> None:
        super().__init__()
        self.search = ""
        self.searching = False
        self.complaint = ""
        self.at = 0
        self.keep: RunEntry | None = None
        self.marked: RunEntry | None = None
        self.answer: Answer | None = None
        self._wanted = self._shown = Wanted()
        self._usable = self._found_for = ""
        self._asker: ShelfAsker | None = None
        self._number = 0
        self._asking = self._ask_again = self._reading = False
        self._asked_s = 0.0
        self._caught_up = -1
        self._seals: dict[Path, SealWords] = {}
        self._checks_seal = False
        self._rests_on, self._rests_since_s = Path(), 0.0

    def on_mount(self) -> None:
        super().on_mount()
        self._asker = ShelfAsker(self.bench_app.keeper.shelf)
        self.bench_app.memory.refresh()
        self.ask()

    def on_unmount(self) -> None:
        asker, self._asker = self._asker, None
        if asker is not None:
            threading.Thread(target=asker.close, name="leaving the shelf", daemon=True).start()

    # ---- asking the shelf, behind the page -------------------------------------------------

    def ask(self) -> None:
        """Ask for the runs about the place at hand; while one question is out, once more after."""
        self._number += 1
        if self._asking:
            self._ask_again = True
            return
        asker = self._asker
        if asker is None:
            return
        self._asking, self._asked_s = True, time.monotonic()
        height, wanted = max(self.size.height, 24), self._wanted
        # While one types, the run moved to last is looked for; while the list grows, the one shown.
        keep = self.keep if wanted != self._shown else self.facts().picked or self.keep
        question = Question(self._number, wanted, self.at, height, keep)

        def work() -> Answer | str:
            try:
                return asker.answer(question)
            except ShelfError as error:
                return str(error)

        self.bench_app.behind(self, work, self._take)

    def _take(self, answer: Answer | str) -> None:
        self._asking = False
        if isinstance(answer, str):
            self.said = answer
        elif answer.number == self._number:
            self.answer, self.at = answer, answer.at
            self._shown, self._found_for = self._wanted, self._usable
            self.keep = self.keep or self.facts().picked
        if self._ask_again:
            self._ask_again = False
            self.ask()
        self._read_folders()
        self.redraw()

    def _read_folders(self) -> None:
        """Where no index can be used: every folder is read, once, behind the page."""
        asker = self._asker
        if asker is None or self._reading or not asker.reads_folders:
            return
        self._reading = True

        def read(_: object) -> None:
            self.ask()

        self.bench_app.behind(self, asker.read_folders, read)

    def tick(self) -> None:
        """While the index is being caught up the list is asked for again; and once after."""
        self._look_at_seal()
        memory, asker = self.bench_app.memory, self._asker
        if asker is None or self._asking:
            return
        grows = memory.catching_up or bool(asker.reading)
        if grows and time.monotonic() - self._asked_s > AGAIN_S:
            self.ask()
        elif not grows and memory.caught_up != self._caught_up:
            self._caught_up = memory.caught_up
            self.ask()

    def _seal_of_picked(self, found: Answer) -> SealWords | None:
        here = self.at - found.first
        entry = found.entries[here] if 0 <= here < len(found.entries) else None
        return self._seals.get(entry.path) if entry is not None else None

    def _look_at_seal(self) -> None:
        """Behind the page, one after the other, of the run on which one rests for a moment."""
        picked = self.facts().picked
        if picked is None or picked.path in self._seals or self._checks_seal:
            return
        if picked.path != self._rests_on:
            self._rests_on, self._rests_since_s = picked.path, time.monotonic()
            return
        if time.monotonic() - self._rests_since_s < REST_S:
            return
        self._checks_seal, folder = True, picked.path

        def taken(seal: SealWords) -> None:
            self._checks_seal = False
            self._seals[folder] = seal
            self.redraw()

        self.bench_app.behind(self, lambda: look_at_seal(folder), taken)

    # ---- drawing ---------------------------------------------------------------------------

    def facts(self) -> PastFacts:
        """One look."""
        found = self.answer
        seen = PastFacts(
            read=False, search=self.search, searching=self.searching, complaint=self.complaint,
            states=self._states(), said=self.said,
            marked=self.marked.run_id if self.marked is not None else "",
        )  # fmt: skip
        if found is None:
            return seen
        return replace(
            seen, read=True, entries=found.entries, first=found.first, at=self.at,
            total=found.total, exact=found.exact, all_runs=found.all_runs,
            partners=found.partners, found_for=self._found_for, written=found.written,
            seal=self._seal_of_picked(found),
        )  # fmt: skip

    def _states(self) -> tuple[str, ...]:
        asker, found = self._asker, self.answer
        out = []
        if found is not None and found.trouble:
            out.append(f"! {found.trouble}")
        if asker is not None and asker.reading:
            out.append(asker.reading)
        elif self.bench_app.memory.catching_up:
            out.append("Comparing with the folders on the shelf; new runs appear by themselves.")
        if found is not None and found.unreadable:
            some = "1 folder" if found.unreadable == 1 else f"{found.unreadable} folders"
            out.append(f"{some} cannot be read; `steadyamps shelf list` says why.")
        return tuple(out)

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        return past_rows(self.facts(), width, height)

    # ---- typing a search -------------------------------------------------------------------

    def act_for(self, event: events.Key) -> str:
        if not self.searching or event.key in MOVES:
            return super().act_for(event)
        match event.key:
            case "enter":
                return "end search"
            case "escape":
                return "all"
            case "backspace":
                self.type_search(self.search[:-1])
            case "ctrl+u":
                self.type_search("")
            case _ if event.character is not None and event.is_printable:
                self.type_search(self.search + event.character)
        return "nothing"

    def on_paste(self, event: events.Paste) -> None:
        """What is pasted belongs to the search."""
        event.stop()
        if self.searching:
            self.type_search(self.search + " ".join(event.text.split()))
            self.redraw()

    def type_search(self, text: str) -> None:
        """What stands in the search now; a date half typed leaves the list as it is."""
        self.search, self.complaint = text[:LONGEST], ""
        try:
            wanted = wanted_from(self.search)
        except ShelfError as error:
            self.complaint = str(error)
            return
        self._usable = self.search.strip()
        if wanted != self._wanted:
            self._wanted, self.at = wanted, 0
            self.ask()
        elif wanted == self._shown:
            self._found_for = self._usable

    def act_nothing(self) -> None:
        """A letter of the search."""

    def act_search(self) -> None:
        """Type, or change what was typed."""
        self.searching = True

    def act_end_search(self) -> None:
        """The letters are keys again."""
        self.searching = False

    def act_all(self) -> None:
        """Show all runs again."""
        self.searching = False
        self.type_search("")

    # ---- moving and opening ----------------------------------------------------------------

    def act_move(self, way: str) -> None:
        """Up and down the list."""
        facts, far = self.facts(), max(self.size.height - 12, 5)
        last = max(facts.total, 1) - 1
        if not facts.exact:
            last = max(last, facts.first + len(facts.entries) - 1)
        to = {"up": self.at - 1, "down": self.at + 1, "far up": self.at - far,
              "far down": self.at + far, "first": 0, "last": last}[way]  # fmt: skip
        self.at = max(0, min(to, last))
        self.keep = self.facts().picked
        if self._asking or not self._holds_window():
            self.ask()

    def _holds_window(self) -> bool:
        found, reach = self.answer, self.size.height // 2 + 2
        if found is None:
            return False
        last = found.first + len(found.entries)
        return (found.first == 0 or found.first <= self.at - reach) and (
            (found.exact and last >= found.total) or last > self.at + reach
        )

    def act_open(self, place: str = "") -> None:
        """Open the run picked."""
        if place:
            self.at = int(place)
            self.keep = self.facts().picked
        picked = self.facts().picked
        if picked is not None:
            self.bench_app.show_run(picked.path)

    def act_together(self) -> None:
        """The run picked with the one before or after the rebuild that belongs to it."""
        facts = self.facts()
        picked, partner = facts.picked, facts.partner
        if picked is None:
            return
        if partner is None:
            self.said = "No run before or after a rebuild belongs to this one; c compares any two."
            return
        self._compare(picked, partner)

    def act_compare(self) -> None:
        """Mark a run, or compare the one picked with the one marked."""
        picked = self.facts().picked
        if picked is None:
            return
        if self.marked is None:
            self.marked = picked
            self.said = "Marked. Go to the other run and press c again."
        elif self.marked.run_id == picked.run_id:
            self.marked, self.said = None, "The mark is taken back."
        else:
            other, self.marked = self.marked, None
            self._compare(picked, other)

    def _compare(self, one: RunEntry, other: RunEntry) -> None:
        earlier, later = sorted((one, other), key=lambda run: (run.began_utc, run.run_id))
        self.bench_app.show_run(later.path, before=earlier.path)

    def act_report(self) -> None:
        """Write the report of the run picked."""
        picked = self.facts().picked
        if picked is None:
            return
        from acquire.screens.report_files import write_report

        folder = picked.path
        self.said = "The report is being written."
        self.bench_app.behind(self, lambda: write_report(folder))

    def act_back(self) -> None:
        """Show all again where something is looked for; else back to where one came from."""
        if self.search:
            self.act_all()
        else:
            self.act_leave()

    def act_leave(self) -> None:
        """Back to where one came from."""
        self.bench_app.go_back(self)
