"""The checks of a rebuild, asked one after another at standstill; an empty line leaves one out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import ClassVar

from acquire.asked_checks import answer_from_text, question_of
from acquire.judge.checks import Answer, evaluate
from acquire.screens.boxes import Box
from acquire.screens.rows import EMPTY, Ink, Row, offer, row, strip_of, wrapped
from profiles.errors import BenchError
from profiles.method import Check

SIGNS: dict[str, tuple[str, Ink]] = {
    "pass": ("=", "good"),
    "fail": ("!", "bad"),
    "not done": ("_", "warn"),
    "noted": (".", "plain"),
}


class ChecksBox(Box):
    """Asks each check; `done` is given the answers, also when the box is left early."""

    name_in_words: ClassVar[str] = "checks"

    def __init__(
        self,
        checks: Sequence[Check],
        done: Callable[[dict[str, Answer]], None],
        *,
        given: Mapping[str, Answer] | None = None,
        caution: str = "",
    ) -> None:
        """`caution`: what to know before hands go to the unit."""
        super().__init__("")
        self.checks = list(checks)
        self.answers: dict[str, Answer] = dict(given or {})
        self._done = done
        self._caution = caution
        self._at = 0
        self._put()

    def _put(self) -> None:
        """Put the check at hand to the operator."""
        check = self.checks[self._at]
        self.question = f"{self._at + 1} of {len(self.checks)}. {question_of(check)}"
        source = f" (source: {check.source})" if check.source else ""
        self.hint = f"An empty line leaves it out: not done.{source}"
        self.typed = ""

    def take(self) -> None:
        check = self.checks[self._at]
        try:
            answer = answer_from_text(check, self.typed)
        except BenchError as error:
            self.complaint = str(error)
            return
        self.complaint = ""
        if answer is not None:
            self.answers[check.name] = answer
        self._at += 1
        if self._at < len(self.checks):
            self._put()
        else:
            self.leave()

    def leave(self) -> None:
        """All are asked, or the operator has had enough."""
        self._done(self.answers)
        self.bench_app.go_back(self)

    def offers(self) -> Row:
        return strip_of(
            [offer("[Enter] keeps it", "take"), offer("[Esc] leaves the rest out", "back")]
        )

    def act_back(self) -> None:
        self.leave()

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        told: list[Row] = [EMPTY]
        if self._caution:
            told += [row(" ", one) for one in wrapped(self._caution, width - 4, "strong")]
        for check in self.checks[: self._at]:
            result = evaluate(check, self.answers.get(check.name))
            sign, ink = SIGNS[result.outcome]
            told += [row(" ", one) for one in wrapped(f"{sign} {result.words}", width - 4, ink)]
        rows = [*self.line_rows(width), *told]
        rows = rows[: height - 1]
        return [*rows, *([EMPTY] * (height - 1 - len(rows))), row(" ", self.offers())]
