"""The first page: there at once, while the bench is read behind it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from acquire.screens.page import Page
from acquire.screens.rows import EMPTY, Row, row, wrapped


class OpeningPage(Page):
    """One sentence; the ready page follows by itself."""

    name_in_words: ClassVar[str] = "opening"

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        words = "Reading profiles and shelf; the bench follows."
        rows = [EMPTY, row(" ", (words, "strong"))]
        stopped = self.bench_app.stopped_early
        if stopped:
            words = f"Stopped: {stopped} Nothing will turn."
            rows += [row(" ", one) for one in wrapped(words, width - 2, "warn")]
        return rows

    def act_for(self, event: object) -> str:
        return ""
