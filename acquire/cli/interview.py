"""Questions one after the other, with a way back to the one before.

    path = interview(lambda asked: _ask_for_a_rig(asked))

Going back begins the talk anew: what was answered before is answered again unseen, so the talk
itself is written straight on and knows nothing of the way back.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar, cast

from acquire.cli.questions import WentBack, ask, ask_choice, ask_number, ask_yes

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class _Kept:
    """What came out of a question, or of a look at something."""

    value: Any
    asked: bool


class Interview:
    """The questions of one talk and what was answered."""

    def __init__(self) -> None:
        self._kept: list[_Kept] = []
        self._place = 0

    def say(self, text: str) -> None:
        """A line for the operator; silent while old answers are given again."""
        if self._place == len(self._kept):
            print(text, file=sys.stderr)

    def ask(self, question: str, *, default: str | None = None) -> str:
        """See `questions.ask`."""
        return self.once(lambda: ask(question, default=default, back=True))

    def number(self, question: str, *, default: float | None = None) -> float | None:
        """See `questions.ask_number`."""
        return self.once(lambda: ask_number(question, default=default, back=True))

    def choice(self, question: str, choices: Sequence[tuple[str, str]]) -> str:
        """See `questions.ask_choice`."""
        return self.once(lambda: ask_choice(question, choices, back=True))

    def yes(self, question: str, *, default: bool = True) -> bool:
        """See `questions.ask_yes`."""
        return self.once(lambda: ask_yes(question, default=default, back=True))

    def once(self, find: Callable[[], T], *, asked: bool = True) -> T:
        """What `find` gives; it is not done again on the way back to a later question.

        `asked`: False for what is found out without the operator.
        """
        if self._place == len(self._kept):
            self._kept.append(_Kept(find(), asked))
        self._place += 1
        return cast("T", self._kept[self._place - 1].value)

    def back(self) -> None:
        """Begin anew, up to the question before the one that stands open."""
        self._place = 0
        while self._kept and not self._kept.pop().asked:
            pass


def interview(talk: Callable[[Interview], T]) -> T:
    """Hold the talk until it is through; the operator may go back in it."""
    asked = Interview()
    while True:
        try:
            return talk(asked)
        except WentBack:
            asked.back()
