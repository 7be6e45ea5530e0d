"""Where something is typed or chosen: a page of its own, single keys, nothing to aim at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from textual import events

from acquire.screens.page import Page
from acquire.screens.rows import (
    EMPTY,
    Bit,
    Ink,
    Row,
    cut,
    offer,
    row,
    stop_offer,
    strip_of,
    strips_of,
    tail,
    wrapped,
)

LONGEST = 400


@dataclass(frozen=True, slots=True)
class Entry:
    """Something to choose from."""

    key: str
    title: str
    note: str = ""


class Box(Page):
    """Asks one thing and gives the answer to `taken`; leaving it gives nothing."""

    name_in_words: ClassVar[str] = "question"

    def __init__(self, question: str, *, typed: str = "", hint: str = "") -> None:
        super().__init__()
        self.question = question
        self.typed = typed
        self.hint = hint
        self.complaint = ""

    def answered(self, answer: str) -> str:
        """Take the answer; a sentence when it cannot be taken."""
        raise NotImplementedError

    async def on_key(self, event: events.Key) -> None:
        event.stop()
        event.prevent_default()
        match event.key:
            case "enter":
                self.take()
            case "escape":
                self.leave()
            case "backspace":
                self.type_text(self.typed[:-1])
            case "up" | "down" | "pageup" | "pagedown":
                self.move(event.key)
            case "ctrl+u":
                self.type_text("")
            case _ if event.character is not None and event.is_printable:
                self.type_text(self.typed + event.character)
        self.redraw()

    def on_paste(self, event: events.Paste) -> None:
        event.stop()
        self.type_text(self.typed + " ".join(event.text.split()))
        self.redraw()

    def type_text(self, text: str) -> None:
        """What stands in the line now."""
        self.typed = text[:LONGEST]
        self.complaint = ""

    def move(self, key: str) -> None:
        """Up and down; a line has none."""

    def leave(self) -> None:
        """Leave without an answer."""
        self.bench_app.go_back(self)

    def take(self) -> None:
        """Give the answer, and leave when it is accepted."""
        self.complaint = self.answered(self.answer())
        if not self.complaint:
            self.bench_app.go_back(self)

    def answer(self) -> str:
        """What is answered now."""
        return self.typed.strip()

    def act_take(self) -> None:
        """The mouse takes it too."""
        self.take()

    def line_rows(self, width: int) -> list[Row]:
        """The question, the line, and what is wrong with it."""
        shown = tail(self.typed, width - 8)
        out = [
            EMPTY,
            *(row(" ", one) for one in wrapped(self.question, width - 2, "strong")),
            EMPTY,
            row("   ", (f"{shown}_", "field")),
            EMPTY,
        ]
        texts: tuple[tuple[str, Ink], ...] = ((self.complaint, "bad"), (self.hint, "dim"))
        for text, ink in texts:
            sign = "! " if ink == "bad" else ""
            out += (
                [row("   ", one) for one in wrapped(f"{sign}{text}", width - 6, ink)]
                if text
                else []
            )
        return out

    def offers(self) -> Row:
        """What the keys do here."""
        keeps = strip_of(
            [offer("[Enter] keeps it", "take"), offer("[Esc] leaves it as it was", "back")]
        )
        if self.bench_app.busy:
            return strip_of([stop_offer(), keeps])
        return keeps

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        rows = self.line_rows(width)
        rows += [EMPTY] * (height - len(rows) - 1)
        return [*rows[: height - 1], cut(row(" ", self.offers()), width)]


class ChooseBox(Box):
    """Choose from a list by arrows or by typing a part of the name."""

    def __init__(
        self,
        question: str,
        entries: Sequence[Entry],
        *,
        picked: str = "",
        hint: str = "",
        typed_too: bool = False,
    ) -> None:
        """`typed_too`: what is typed may itself be the answer."""
        super().__init__(question, hint=hint)
        self.entries = list(entries)
        self.typed_too = typed_too
        keys = [entry.key for entry in self.entries]
        self.at = keys.index(picked) if picked in keys else 0

    def shown(self) -> list[Entry]:
        """The entries that hold every word typed."""
        words = self.typed.casefold().split()
        return [
            entry
            for entry in self.entries
            if all(word in f"{entry.key} {entry.title}".casefold() for word in words)
        ]

    def type_text(self, text: str) -> None:
        super().type_text(text)
        self.at = 0

    def move(self, key: str) -> None:
        step = {"up": -1, "down": 1, "pageup": -10, "pagedown": 10}[key]
        self.at = max(0, min(self.at + step, len(self.shown()) - 1))

    def answer(self) -> str:
        shown = self.shown()
        if shown:
            return shown[self.at].key
        return self.typed.strip() if self.typed_too else ""

    def take(self) -> None:
        if not self.answer() and not self.shown():
            self.complaint = "Nothing here has that in its name."
            return
        super().take()

    def act_pick(self, number: str) -> None:
        """A click on an entry picks it."""
        self.at = int(number)
        self.take()

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        head = self.line_rows(width)
        shown = self.shown()
        moves = row(("[up] [down]", "key"), (" choose, or type a part of the name", "act"))
        foot = [row(" ", line) for line in strips_of([moves, self.offers()], width - 2)]
        room = max(height - len(head) - 2 - len(foot), 1)
        first = max(0, min(self.at - room // 2, len(shown) - room))
        rows = [self._entry(number, entry, width) for number, entry in enumerate(shown)]
        rows = rows[first : first + room]
        if not shown and self.typed_too:
            rows = [row("   ", ("Enter takes what is typed.", "dim"))]
        body = [*head, EMPTY, *rows]
        return [*body, *([EMPTY] * (height - len(body) - len(foot))), *foot][:height]

    def _entry(self, number: int, entry: Entry, width: int) -> Row:
        mark = ">" if number == self.at else " "
        ink: Ink = "picked" if number == self.at else "act"
        title = Bit(f" {mark} {entry.title} ", ink, f"pick {number}")
        return cut(row(title, (f"  {entry.note}", "dim")), width)
