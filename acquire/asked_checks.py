"""The checks of a rebuild as they are asked: which, when, and what a typed answer means."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from acquire.judge.checks import Answer, BadCheckAnswer
from acquire.record.journal import JOURNAL_FILE, JournalEntry
from acquire.record.other_hands import as_we_write, number
from acquire.sweep.checking import SpeedCheck
from acquire.typed_number import typed_number
from profiles.method import Check, Method
from profiles.plain_text import shown
from profiles.rig import Rig

CHECK_ANSWERED = "check answered"
"""Kind of the journal entry that keeps an answer."""

_YES, _NO = ("yes", "y"), ("no", "n")


def asked(method: Method, when: Literal["before", "after", "at speed"]) -> list[Check]:
    """The checks of a method that are asked at one time, in the method's order."""
    return [check for check in method.check if check.when_asked == when]


def speed_checks(method: Method, rig: Rig, *, unit_max_rpm: float | None) -> list[SpeedCheck]:
    """The checks at a speed that this rig and this unit may turn at."""
    ceilings = [rpm for rpm in (rig.rig.max_shaft_rpm, unit_max_rpm) if rpm is not None]
    ceiling = min(ceilings, default=float("inf"))
    return [
        SpeedCheck(check.name, check.at_rpm, check.load)
        for check in asked(method, "at speed")
        if check.at_rpm is not None and check.at_rpm <= ceiling
    ]


def question_of(check: Check) -> str:
    """The check as it is put to the operator, with its limits and how to answer."""
    words = check.ask or check.name
    at_load = f" ({check.load})" if check.load and check.load not in words else ""
    ending = "" if words.endswith("?") else ":"
    return f"{words}{at_load}{ending} {_how(check)}"


def _how(check: Check) -> str:
    match check.kind_of_answer:
        case "yes-no":
            return "[yes/no]"
        case "number":
            return f"[{check.in_ or 'number'}]"
        case _:
            return "[words]"


def answer_from_text(check: Check, text: str) -> Answer:
    """What a typed line says; None for an empty one: the check was not done.

    Raises:
        BadCheckAnswer: If the line does not fit the check.
    """
    text = text.strip()
    if not text:
        return None
    match check.kind_of_answer:
        case "yes-no":
            return _yes_no(check, text)
        case "number":
            return _number(check, text)
        case _:
            return text


def _yes_no(check: Check, text: str) -> bool:
    if text.lower() in (*_YES, *_NO):
        return text.lower() in _YES
    raise BadCheckAnswer(
        f"The check '{check.name}' wants yes or no, not {shown(text)}.",
        what_to_do="Type yes where it is as it should be, else no; an empty line leaves it out.",
    )


def _number(check: Check, text: str) -> float:
    value = typed_number(text)
    if isinstance(value, float):
        return value
    point = text.replace(",", ".", 1)
    decimal_comma = len(point) < 40 and isinstance(typed_number(point), float)
    hint = f"as in {point}" if decimal_comma else "with a point for decimals"
    raise BadCheckAnswer(
        f"The check '{check.name}' wants a number, not {shown(text)}.",
        what_to_do=f"Type the figure alone, {hint}; an empty line leaves it out.",
    )


def answers_in(journal: Iterable[JournalEntry]) -> dict[str, Answer]:
    """What was answered in a run, by the name of the check; the last answer counts."""
    with as_we_write(JOURNAL_FILE, "the answer to a check"):
        return {
            str(entry.data["check"]): _kept_answer(entry.data["answer"])
            for entry in journal
            if entry.kind == CHECK_ANSWERED
        }


def _kept_answer(value: object) -> Answer:
    if value is None or isinstance(value, str | bool):
        return value
    return number(value)
