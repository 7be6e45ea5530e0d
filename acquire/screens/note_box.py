"""Typing a note to a record: what, who says it, why, and files such as photos."""

from __future__ import annotations

import getpass
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from acquire.errors import OrderError
from acquire.screens.boxes import Box
from acquire.screens.rows import EMPTY, Row, cut, offer, row, strip_of
from acquire.typed_path import is_there, typed_path

QUESTIONS: tuple[tuple[str, str, str], ...] = (
    (
        "text",
        "What is to be noted?",
        "As in: brush holder replaced. May be left empty for a photo.",
    ),
    ("who", "Who says it?", "The name stands in the note; it is remembered until you leave."),
    ("why", "Why is it added?", "As in: asked for by the customer. May stay empty."),
    ("file", "A photo or file?", "Its path, as in ~/photos/brushes.jpg. Empty: none, or no more."),
)
"""(what, question, hint) in the order they are asked; the last is asked until it stays empty."""


@dataclass(frozen=True, slots=True)
class TypedNote:
    """A note as it was typed."""

    text: str = ""
    who: str = ""
    why: str = ""
    files: tuple[Path, ...] = ()


class NoteBox(Box):
    """Asks one after the other; nothing is added before the last is answered, or after Esc."""

    name_in_words = "note"

    def __init__(self, who: str, done: Callable[[TypedNote], None]) -> None:
        """`who`: whom it most likely is from. `done` is given the note."""
        super().__init__("")
        self.note = TypedNote(who=who or user_here())
        self._done = done
        self._at = 0
        self._put()

    def _put(self) -> None:
        name, question, self.hint = QUESTIONS[self._at]
        self.question = f"{self._at + 1} of {len(QUESTIONS)}. {question}"
        self.typed = "" if name == "file" else getattr(self.note, name)
        self.complaint = ""

    def take(self) -> None:
        name, answer = QUESTIONS[self._at][0], self.answer()
        if name == "file":
            self._take_file(answer)
        elif name == "who" and not answer:
            self.complaint = "Type a name."
        else:
            self.note = _with(self.note, name, answer)
            self._at += 1
            self._put()

    def _take_file(self, answer: str) -> None:
        if not answer:
            self._end()
            return
        try:
            path = typed_path(_without_quotes(answer))
        except OrderError as error:
            self.complaint = str(error)
            return
        if not (is_there(path) and path.is_file()):
            self.complaint = f"There is no file {path}."
            return
        self.note = replace(self.note, files=(*self.note.files, path))
        self._put()

    def _end(self) -> None:
        if not self.note.text and not self.note.files:
            self.complaint = "Nothing is noted yet: name a photo or file, or leave with Esc."
            return
        self.bench_app.go_back(self)
        self._done(self.note)

    def offers(self) -> Row:
        last = QUESTIONS[self._at][0] == "file" and not self.typed
        words = "[Enter] adds the note" if last else "[Enter] keeps it, next"
        return strip_of([offer(words, "take"), offer("[Esc] adds nothing", "back")])

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        told = [EMPTY, *(self._told(number) for number in range(len(QUESTIONS)))]
        rows = [*self.line_rows(width), *(cut(one, width - 1) for one in told)][: height - 1]
        return [*rows, *([EMPTY] * (height - 1 - len(rows))), row(" ", self.offers())]

    def _told(self, number: int) -> Row:
        name = QUESTIONS[number][0]
        mark = ">" if number == self._at else " "
        files = ", ".join(path.name for path in self.note.files)
        value = files if name == "file" else getattr(self.note, name)
        words = row((f" {mark} {name:<14}", "dim"))
        return row(words, (value or "-", "field" if value else "dim"))


def user_here() -> str:
    """The name this computer knows the user by; empty where it keeps no list of users."""
    try:
        return getpass.getuser()
    except (ImportError, KeyError, OSError):
        return ""


def _with(note: TypedNote, name: str, answer: str) -> TypedNote:
    match name:
        case "text":
            return replace(note, text=answer)
        case "who":
            return replace(note, who=answer)
        case _:
            return replace(note, why=answer)


def _without_quotes(path: str) -> str:
    """As a terminal pastes a file that is dropped on it: in quotes where the name has spaces."""
    quoted = len(path) > 1 and path[0] == path[-1] and path[0] in "'\""
    return path[1:-1] if quoted else path
