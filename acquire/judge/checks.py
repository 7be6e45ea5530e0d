"""The other things a rebuild must pass: a number with limits, a yes or no, or a note."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from profiles.errors import BenchError
from profiles.method import Check

CheckOutcome = Literal["pass", "fail", "not done", "noted"]
Answer = float | bool | str | None


class BadCheckAnswer(BenchError):
    """An answer that does not fit its check."""


@dataclass(frozen=True, slots=True)
class CheckResult:
    """One check and what came of it."""

    name: str
    kind: Literal["number", "yes-no", "note"]
    outcome: CheckOutcome
    value: Answer = None
    unit_of_measure: str | None = None
    low: float | None = None
    high: float | None = None
    words: str = ""
    insisted: bool = False
    """True when the method says in so many words that a pass needs this check."""

    def to_data(self) -> dict[str, object]:
        """Give the check as plain data."""
        return {
            "name": self.name,
            "kind": self.kind,
            "outcome": self.outcome,
            "value": self.value,
            "in": self.unit_of_measure,
            "low": self.low,
            "high": self.high,
            "words": self.words,
        }


def evaluate(check: Check, answer: Answer = None) -> CheckResult:
    """Judge the answer to one check; None = not done. Limits are inclusive.

    Raises:
        BadCheckAnswer: The answer is of the wrong kind, or not a number.
    """
    kind = check.kind_of_answer
    if answer is None or (isinstance(answer, str) and not answer.strip()):
        return _result(check, None, "not done", f"{check.name}: not done")
    if kind == "number":
        return _number(check, answer)
    if kind == "yes-no":
        return _yes_no(check, answer)
    return _result(check, str(answer), "noted", f"{check.name}: {answer}")


def evaluate_all(checks: Iterable[Check], answers: Mapping[str, Answer]) -> list[CheckResult]:
    """Judge the answers, found by the name of the check."""
    return [evaluate(check, answers.get(check.name)) for check in checks]


def _number(check: Check, answer: Answer) -> CheckResult:
    if isinstance(answer, bool | str) or answer is None or not math.isfinite(answer):
        raise BadCheckAnswer(
            f"The check {check.name!r} needs a number; the answer is {answer!r}.",
            what_to_do=f"Give the reading in {check.in_ or 'its unit of measure'}.",
        )
    low, high, unit = check.low, check.high, check.in_ or ""
    inside = (low is None or answer >= low) and (high is None or answer <= high)
    said = f"{check.name}: {answer:g} {unit}".rstrip()
    verdict = "within" if inside else "outside"
    outcome: CheckOutcome = "pass" if inside else "fail"
    return _result(check, float(answer), outcome, f"{said}, {verdict} {_limits(low, high, unit)}")


def _yes_no(check: Check, answer: Answer) -> CheckResult:
    if not isinstance(answer, bool):
        raise BadCheckAnswer(
            f"The check {check.name!r} needs yes or no; the answer is {answer!r}.",
            what_to_do="Answer yes where it is as it should be, else no.",
        )
    outcome: CheckOutcome = "pass" if answer else "fail"
    return _result(check, answer, outcome, f"{check.name}: {'yes' if answer else 'no'}")


def _limits(low: float | None, high: float | None, unit: str) -> str:
    if low is not None and high is not None:
        return f"{low:g} to {high:g} {unit}".rstrip()
    if low is not None:
        return f"at least {low:g} {unit}".rstrip()
    return "no limits" if high is None else f"at most {high:g} {unit}".rstrip()


def _result(check: Check, value: Answer, outcome: CheckOutcome, words: str) -> CheckResult:
    return CheckResult(
        name=check.name,
        kind=check.kind_of_answer,
        outcome=outcome,
        value=value,
        unit_of_measure=check.in_,
        low=check.low,
        high=check.high,
        words=words,
        insisted=check.needed and "needed" in check.model_fields_set,
    )
