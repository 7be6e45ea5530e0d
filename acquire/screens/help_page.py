"""Help for the page one came from, and the cautions, to be read or accepted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from acquire.screens.help_text import KEYS, MOUSE, PAGES, SAFETY, WORDS
from acquire.screens.page import Page
from acquire.screens.rows import (
    EMPTY,
    Row,
    cut,
    fit,
    offer,
    row,
    scrolled,
    stop_offer,
    strip_of,
    wrapped,
)


class ScrollPage(Page):
    """A text that may be longer than the page."""

    keys: ClassVar[dict[str, str]] = {
        "up": "up", "down": "down", "pageup": "page up", "pagedown": "page down",
        "home": "first", "end": "last",
        "q": "back", "enter": "back", "l": "light",
    }  # fmt: skip

    def __init__(self) -> None:
        super().__init__()
        self.first = 0
        self._most = 0

    def text_rows(self, width: int) -> list[Row]:
        """The whole text."""
        raise NotImplementedError

    def offers(self) -> list[Row]:
        """What can be done here."""
        return [offer("[Esc] back", "back")]

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        text = self.text_rows(width)
        said = [row(" ", one) for one in wrapped(self.said, width - 2, "warn")]
        room = height - 1 - len(said)
        self._most = max(len(text) - room, 0)
        self.first = min(self.first, self._most)
        shown = scrolled(text, room, self.first)
        offers = self.offers()
        if self._most > self.first:
            left = self._most - self.first
            words = f"{left} line{'s' if left > 1 else ''} more: "
            offers.append(row((words, "dim"), offer("[down]", "down")))
        stop = [stop_offer()] if self.bench_app.busy else []
        foot = cut(row(" ", strip_of([*stop, *offers])), width)
        return [*shown, *([EMPTY] * (room - len(shown))), *said, foot]

    def act_up(self) -> None:
        """One line up."""
        self.first = max(self.first - 1, 0)

    def act_down(self) -> None:
        """One line down."""
        self.first = min(self.first + 1, self._most)

    def act_page(self, way: str) -> None:
        """A page up or down."""
        step = max(self.sheet.size.height - 3, 1)
        move = step if way == "down" else -step
        self.first = max(min(self.first + move, self._most), 0)

    def act_first(self) -> None:
        """To the beginning."""
        self.first = 0

    def act_last(self) -> None:
        """To the end."""
        self.first = self._most

    def act_light(self) -> None:
        """Light paper for dark, and back."""
        self.bench_app.change_light()


class HelpPage(ScrollPage):
    """What the page one came from is for, and the cautions."""

    name_in_words: ClassVar[str] = "help"

    def __init__(self, about: str) -> None:
        super().__init__()
        self.about = about

    def offers(self) -> list[Row]:
        return [offer("[Esc] back", "back"), offer("[l]ight or dark", "light")]

    def text_rows(self, width: int) -> list[Row]:
        room = min(width - 2, 100)
        out: list[Row] = [row(" ", (f"Help: {self.about}", "strong")), EMPTY]
        for text in PAGES.get(self.about, ()):
            out += [row(" ", line) for line in wrapped(text, room)]
        out += _pairs("Signs and words", WORDS, room)
        out += _pairs("Keys", KEYS, room)
        out += [EMPTY, *(row(" ", line) for line in wrapped(MOUSE, room, "dim"))]
        out += [EMPTY, row(" ", ("Cautions", "strong"))]
        for caution in (SAFETY, *self.bench_app.choices.cautions):
            out += [row(" ", line) for line in wrapped(f"! {caution}", room, hang=2)]
        return out


def _pairs(title: str, pairs: Sequence[tuple[str, str]], room: int) -> list[Row]:
    out: list[Row] = [EMPTY, row(" ", (title, "strong"))]
    for word, meaning in pairs:
        lines = wrapped(meaning, room - 14)
        out.append(row(" ", fit(row((word, "key")), 14), lines[0]))
        out += [row(" " * 15, line) for line in lines[1:]]
    return out


class CautionsPage(ScrollPage):
    """What must be so before anything turns; accepted with one key."""

    name_in_words: ClassVar[str] = "cautions"
    keys: ClassVar[dict[str, str]] = {
        **{key: act for key, act in ScrollPage.keys.items() if act != "back"},
        "y": "accept",
    }

    def __init__(self, accept: Callable[[], None]) -> None:
        super().__init__()
        self._accept = accept

    def offers(self) -> list[Row]:
        return [offer("[y]es, all of this is so", "accept"), offer("[Esc] not yet", "back")]

    def text_rows(self, width: int) -> list[Row]:
        out: list[Row] = [row(" ", ("Before it turns, all of this is so:", "strong")), EMPTY]
        for caution in self.bench_app.choices.cautions:
            out += [row(" ", line) for line in wrapped(f"_ {caution}", min(width - 2, 100), hang=2)]
        return out

    def act_accept(self) -> None:
        """All of it is so."""
        self._accept()
        self.bench_app.go_back(self)
