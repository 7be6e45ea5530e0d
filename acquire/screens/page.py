"""The base of every page: one sheet, keys of single letters, clicks on the same words."""

from __future__ import annotations

import inspect
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, ClassVar, cast

from textual import events
from textual.app import ComposeResult
from textual.screen import Screen
from textual.timer import Timer

from acquire.screens.look import Look
from acquire.screens.rows import EMPTY, Row, in_plain_signs, wrapped
from acquire.screens.sheet import Sheet

if TYPE_CHECKING:
    from acquire.screens.app import BenchApp

LEAST_WIDTH, LEAST_HEIGHT = 80, 24
ROWS_WITH_A_MARGIN = 8
COMMON_KEYS = {"question_mark": "help", "f": "file", "escape": "back"}


class Page(Screen[None], inherit_bindings=False):
    """One page. `keys` maps a key to an act; an act `begin` is the method `act_begin`."""

    name_in_words: ClassVar[str] = ""
    keys: ClassVar[Mapping[str, str]] = {}
    every_s: ClassVar[float] = 0.2
    DEFAULT_CSS = "Page { background: $background; layout: vertical; }"

    def __init__(self) -> None:
        super().__init__()
        self.sheet = Sheet()
        self.said = ""
        """The answer to the last key, where it needs one."""
        self._timer: Timer | None = None

    @property
    def bench_app(self) -> BenchApp:
        """The app, as what it is."""
        return cast("BenchApp", self.app)

    @property
    def look(self) -> Look:
        """How this terminal is drawn on."""
        return self.bench_app.look

    # ---- what a page gives -----------------------------------------------------------------

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        """The rows of the page as it is now."""
        raise NotImplementedError

    def tick(self) -> None:
        """Called before each look; a page may move on here."""

    # ---- drawing ---------------------------------------------------------------------------

    def compose(self) -> ComposeResult:
        yield self.sheet

    def on_mount(self) -> None:
        self._timer = self.set_interval(self.every_s, self.redraw)
        self.call_after_refresh(self.redraw)

    def on_screen_resume(self) -> None:
        self.redraw()

    def on_resize(self, _event: events.Resize) -> None:
        self.call_after_refresh(self.redraw)

    def redraw(self) -> None:
        """Look again, and show it."""
        if self.app.screen is self:
            self.bench_app.see_stop()
        if self.app.screen is not self:
            return
        self.tick()
        width, height = self.sheet.size
        if width and height and self.app.screen is self:
            self.sheet.show(self.rows_for(width, height))

    def rows_for(self, width: int, height: int) -> Sequence[Row]:
        """The page, or one clear sentence where the window is too small for it."""
        if width < LEAST_WIDTH or height < LEAST_HEIGHT:
            app = self.bench_app
            return too_small(
                width, height, running=app.busy, stopping=app.stopping, hands=app.hands_at_stop
            )
        rows = self.page_rows(width, height)
        return [in_plain_signs(one) for one in rows] if self.look.ascii else rows

    # ---- keys and clicks -------------------------------------------------------------------

    async def on_key(self, event: events.Key) -> None:
        act = self.act_for(event)
        if act:
            event.stop()
            event.prevent_default()
            await self.do(act)

    def act_for(self, event: events.Key) -> str:
        """The act that a key stands for; empty when none."""
        return self.keys.get(event.key, "") or COMMON_KEYS.get(event.key, "")

    async def do(self, act: str) -> None:
        """Do what a key or a click asks for, and show what came of it."""
        name, _, argument = act.partition(" ")
        method = getattr(self, f"act_{act.replace(' ', '_')}", None)
        given: tuple[str, ...] = ()
        if method is None:
            method, given = getattr(self, f"act_{name}", None), (argument,)
        if method is None:
            return
        self.said = ""
        result = method(*given)
        if inspect.isawaitable(result):
            await result
        self.redraw()

    async def action_do(self, act: str) -> None:
        """A click on the words of an act."""
        await self.do(act)

    def say(self, words: object) -> None:
        """Answer on the page."""
        self.said = str(words) if words is not None else ""
        self.redraw()

    # ---- acts every page has ---------------------------------------------------------------

    def act_stop(self) -> None:
        """The mouse stops too."""
        if self.bench_app.stop_run("operator", "STOP was clicked."):
            self.bench_app.show_the_run()

    def act_help(self) -> None:
        """What the words and signs mean, and the cautions."""
        self.bench_app.show_help(self)

    def act_file(self) -> None:
        """Write this view to a text and an SVG file."""
        self.said = self.bench_app.file_view(self.name_in_words, self.sheet.rows)

    def act_back(self) -> None:
        """Back to the page before; the first page has none."""
        self.bench_app.go_back(self)


def too_small(
    width: int, height: int, *, running: bool, stopping: bool = False, hands: str = ""
) -> list[Row]:
    """One clear sentence; before it, because it may be all that fits, what the run does."""
    words = f"This window is {width} x {height}; the screens need {LEAST_WIDTH} x {LEAST_HEIGHT}."
    words += " Make it larger."
    if stopping:
        words = f"Stopping; keep clear until the shaft stands still. {words}"
        words = f"{hands}. {words}" if hands else words
    elif running:
        words = f"The run goes on; the space bar stops it. {words}"
    above = [EMPTY] if height >= ROWS_WITH_A_MARGIN else []
    return [*above, *wrapped(words, max(width, 8), "strong")]
