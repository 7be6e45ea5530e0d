"""Asking the checks of a rebuild at a plain terminal; answers given on the command line."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from acquire.asked_checks import answer_from_text, question_of
from acquire.cli.answers import Answers
from acquire.cli.voice import Voice
from acquire.errors import OrderError
from acquire.judge.checks import Answer, BadCheckAnswer
from profiles.method import Check, Method

SLICE_S = 0.2
STOP_WORDS = ("stop", "q", "quit")


def answers_given(method: Method, given: Sequence[str]) -> dict[str, Answer]:
    """The answers of `--check NAME=ANSWER`, by name.

    Raises:
        OrderError: If one is no such pair, or the method has no such check.
        BadCheckAnswer: If an answer does not fit its check.
    """
    checks = {check.name: check for check in method.check}
    answers: dict[str, Answer] = {}
    for pair in given:
        name, equals, text = pair.partition("=")
        check = checks.get(name.strip())
        if not equals or check is None:
            known = "; ".join(checks) or "none; use --method rebuild-12v or rebuild-24v"
            raise OrderError(
                f"--check {pair!r} does not name a check of this method.",
                what_to_do=f'Write NAME=ANSWER. Checks of the method "{method.title}": {known}.',
            )
        answers[check.name] = answer_from_text(check, text)
    return answers


def ask_all(voice: Voice, answers: Answers, checks: Sequence[Check]) -> dict[str, Answer]:
    """Ask each check in turn; an empty line leaves one out."""
    got: dict[str, Answer] = {}
    for check in checks:
        answer = ask_one(voice, answers, check, going_on=lambda: True)
        if answer is not None:
            got[check.name] = answer
    return got


def ask_one(
    voice: Voice,
    answers: Answers,
    check: Check,
    *,
    going_on: Callable[[], bool],
    hint: str = "",
    stop: Callable[[], None] | None = None,
) -> Answer:
    """Ask until the answer fits; None when left out, or when nobody answers any more.

    `stop`: what the word stop does, while something turns.
    """
    voice.talk(f"{question_of(check)}{hint}  (empty: not done)")
    while going_on():
        line = answers.next(SLICE_S)
        if line is None:
            if answers.ended:
                return None
            continue
        if stop is not None and line.lower() in STOP_WORDS:
            stop()
            return None
        try:
            return answer_from_text(check, line)
        except BadCheckAnswer as error:
            voice.talk(str(error))
    return None


def left_to_ask(checks: Sequence[Check], answered: Mapping[str, Answer]) -> list[Check]:
    """Those without an answer."""
    return [check for check in checks if check.name not in answered]
