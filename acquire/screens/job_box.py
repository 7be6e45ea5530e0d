"""Typing what a job is about: for whom, from what, what was complained of, what was fitted."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from acquire.record.run_header import Job
from acquire.screens.boxes import Box
from acquire.screens.rows import EMPTY, Row, cut, offer, row, strip_of

FACTS: tuple[tuple[str, str, str], ...] = (
    ("customer", "Who is the customer?", "as in: Example Boats"),
    ("fitted_to", "What is the unit fitted to?", "as in: harbour launch, port engine"),
    ("complaint", "What was complained of?", "as in: battery not charged at idle"),
    ("parts_fitted", "Which parts were fitted?", "as in: brushes, front bearing"),
    ("claim", "Number of the warranty claim.", "as in: W-0312"),
)
"""(key of run.json, question, example) in the order they are asked."""


class JobBox(Box):
    """Asks one after the other; Enter keeps a line and goes on, Esc leaves the rest as it is."""

    name_in_words = "job"

    def __init__(self, job: Job, done: Callable[[Job], None]) -> None:
        """`done` is given the job as it is then."""
        super().__init__("")
        self.job = job
        self._done = done
        self._at = 0
        self._put()

    def _put(self) -> None:
        key, question, example = FACTS[self._at]
        self.question = f"{self._at + 1} of {len(FACTS)}. {question}"
        self.hint = f"{example}. May stay empty."
        self.typed = getattr(self.job, key) or ""

    def take(self) -> None:
        key = FACTS[self._at][0]
        self.job = self.job.model_copy(update={key: self.answer() or None})
        self._at += 1
        if self._at < len(FACTS):
            self._put()
        else:
            self.leave()

    def leave(self) -> None:
        """All are asked, or the operator has had enough."""
        self._done(self.job)
        self.bench_app.go_back(self)

    def act_back(self) -> None:
        self.leave()

    def offers(self) -> Row:
        return strip_of(
            [offer("[Enter] keeps it, next", "take"), offer("[Esc] leaves the rest", "back")]
        )

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        told = [EMPTY, *(self._told(number) for number in range(len(FACTS)))]
        rows = [*self.line_rows(width), *(cut(one, width - 1) for one in told)][: height - 1]
        return [*rows, *([EMPTY] * (height - 1 - len(rows))), row(" ", self.offers())]

    def _told(self, number: int) -> Row:
        key = FACTS[number][0]
        mark = ">" if number == self._at else " "
        words = row((f" {mark} {key.replace('_', ' '):<14}", "dim"))
        value = getattr(self.job, key)
        return row(words, (value or "-", "field" if value else "dim"))
