"""A reading that the operator types: what stands in the line, and whether it can be so."""

from __future__ import annotations

from acquire.bench import Bench
from acquire.live_run import LiveRun
from acquire.sweep.commands import TypeReading
from acquire.typed_doubt import ONCE_MORE, far_off
from acquire.typed_number import typed_number
from profiles.errors import BenchError

LONGEST = 9


class TypedReading:
    """The line of one question; a figure far from what it should be must be entered twice."""

    def __init__(self) -> None:
        self.question: TypeReading | None = None
        self.text = ""
        self.complaint = ""
        self._doubted: float | None = None

    def see(self, bench: Bench, run: LiveRun) -> None:
        """Notice a new question, or that the last one was answered."""
        question = bench.view.question
        if run.stop_path is not None and run.stop_path.tripped:
            question = None
        if question is not self.question:
            self.question, self.text, self.complaint, self._doubted = question, "", "", None

    def add(self, sign: str) -> None:
        """One more sign."""
        if self.question is not None and len(self.text) < LONGEST:
            self.text += sign
            self.complaint = ""

    def rub_out(self) -> None:
        """Take the last sign back."""
        self.text = self.text[:-1]

    def take(self, bench: Bench, run: LiveRun) -> None:
        """Check what was typed and hand it to the bench."""
        question = self.question
        if question is None or run.wiring is None:
            return
        value = typed_number(self.text)
        if isinstance(value, str):
            self.complaint = value
            return
        doubt = far_off(question, value, run)
        if doubt and self._doubted != value:
            self.complaint, self._doubted = f"{doubt} {ONCE_MORE}", value
            return
        try:
            run.wiring.type_reading(question.channel, value)
        except BenchError as error:
            self.complaint = str(error)
            return
        self.question, self.text, self.complaint = None, "", ""
        if bench.view.question is question:
            bench.view.question = None
