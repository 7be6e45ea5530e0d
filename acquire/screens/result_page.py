"""The result page: verdict first, then what it rests on, then the next unit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import ClassVar

from acquire.record.seal_words import SealWords, look_at_seal
from acquire.resuming import Interrupted, interrupted
from acquire.screens.hands_view import hands_rows
from acquire.screens.note_box import NoteBox, TypedNote
from acquire.screens.page import Page
from acquire.screens.result_facts import ResultFacts
from acquire.screens.result_view import result_rows, told_of
from acquire.screens.rows import EMPTY, Row, offer, row, strip_of, wrapped


class ResultPage(Page):
    """One result: of the run that has just ended, or of one on the shelf."""

    name_in_words: ClassVar[str] = "result"
    every_s: ClassVar[float] = 0.5
    keys: ClassVar[dict[str, str]] = {
        "n": "next", "s": "same", "g": "go on", "o": "note", "e": "match", "p": "past",
        "r": "report", "q": "quit", "down": "proof down", "up": "proof up",
        "pagedown": "proof far down", "pageup": "proof far up",
    }  # fmt: skip

    def __init__(self, facts: ResultFacts | None, *, live: bool, trouble: str = "") -> None:
        """`live`: of the run that has just ended. `trouble`: why there is no result."""
        super().__init__()
        self.facts = facts
        self.live = live
        self.trouble = trouble
        self.first = 0
        self.urgent: tuple[str, str] = ("", "")
        """What hands must do still, in large words and in a sentence."""
        self.before: Path | None = None
        """The earlier run that is shown beside it."""

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        if self.facts is None:
            urgent = self._urgent_rows(width, height)
            words = self.trouble or self.said or "Reading the record."
            offers = [offer("[n]ext unit", "next"), offer("[q]uit", "quit")]
            return [
                *urgent,
                EMPTY,
                *(row(" ", one) for one in wrapped(words, width - 2, "strong")),
                EMPTY,
                row(" ", strip_of(offers if self.live else [offer("[Esc] back", "back")])),
            ]
        told = told_of(self.facts, width)
        self.first = min(self.first, len(told.proof))
        urgent = self._urgent_rows(width, height)
        rows = result_rows(
            self.facts, width, height - len(urgent), self.look,
            first=self.first, live=self.live, said=self.said, told=told,
        )  # fmt: skip
        return [*urgent, *rows]

    def _urgent_rows(self, width: int, height: int) -> list[Row]:
        """Before any result: a shaft that may turn still, a pile that is closed."""
        hands, words = self.urgent
        rows = hands_rows(hands, "", width, height, self.look)
        sentence = wrapped(f"! {words}", width - 2, "bad", hang=2) if words else []
        return [*rows, *(row(" ", one) for one in sentence)]

    def take_facts(self, facts: ResultFacts) -> None:
        """The record has been read; its seal is checked behind the page, which takes longer."""
        self.facts = facts
        self.redraw()
        folder = facts.folder

        def taken(seal: SealWords) -> None:
            if self.facts is not None and self.facts.folder == folder:
                self.facts = replace(self.facts, seal=seal)
                self.redraw()

        self.bench_app.behind(self, lambda: look_at_seal(folder), taken)

    def act_proof(self, way: str) -> None:
        """Move the proof up or down."""
        step = {"up": -1, "down": 1, "far up": -8, "far down": 8}[way]
        self.first = max(self.first + step, 0)

    def act_next(self) -> None:
        """The next unit on the same rig, by the same method, rule and operator."""
        if self.live:
            self.bench_app.choices.next_unit()
            self.bench_app.back_to_ready()

    def act_same(self) -> None:
        """The same unit once more."""
        if self.live:
            self.bench_app.choices.same_unit()
            self.bench_app.back_to_ready()

    def act_go_on(self) -> None:
        """Go on with this run, where it did not come to its end."""
        if self.facts is None or not self.facts.goes_on:
            return
        folder, app = self.facts.folder, self.bench_app

        def go_on(run: Interrupted) -> None:
            app.choices.go_on_with(run)
            app.back_to_ready()

        self.said = "Reading the run that goes on."
        app.behind(self, lambda: interrupted(folder), go_on)

    def act_note(self) -> None:
        """Add a sealed note to the record."""
        if self.facts is not None:
            app = self.bench_app
            app.open_page(NoteBox(app.noted_by or app.choices.operator or "", self._noted))

    def _noted(self, typed: TypedNote) -> None:
        if self.facts is None:
            return
        folder = self.facts.folder
        self.bench_app.noted_by = typed.who

        def add() -> str:
            from acquire.record.add_note import add_note
            from acquire.record.signing import workshop_key

            note = add_note(
                folder, typed.text, who=typed.who, why=typed.why, attach=typed.files,
                key=workshop_key(),
            )  # fmt: skip
            return note.added_words

        def added(words: str) -> None:
            self.say(words)
            if self.facts is not None:
                self.take_facts(self.facts)  # the seal is another one now

        self.bench_app.behind(self, add, added)

    def act_match(self) -> None:
        """This unit for an engine."""
        folder = self.facts.folder if self.facts is not None else None
        self.bench_app.show_match(folder)

    def act_past(self) -> None:
        """Past tests."""
        self.bench_app.show_past()

    def act_report(self) -> None:
        """Write the report."""
        if self.facts is None:
            return
        from acquire.screens.report_files import write_report

        folder, before = self.facts.folder, self.before
        self.said = "The report is being written."
        self.bench_app.behind(self, lambda: write_report(folder, before))

    def act_back(self) -> None:
        """Back to the list it was opened from; a fresh result is left by n, s or q."""
        if not self.live:
            self.bench_app.go_back(self)

    def act_quit(self) -> None:
        """Leave the program, or the run that was opened."""
        if self.live:
            self.bench_app.leave()
        else:
            self.bench_app.go_back(self)
