"""A check that belongs to a speed, answered in the line below the figures while the shaft turns."""

from __future__ import annotations

from acquire.asked_checks import answer_from_text, question_of
from acquire.bench import Bench
from acquire.judge.checks import Answer, evaluate
from acquire.live_run import LiveRun
from acquire.screens.sweep_facts import Typing
from profiles.errors import BenchError
from profiles.method import Check

LONGEST = 60


class SpeedCheckLine:
    """The line of one check; an empty answer leaves it out."""

    def __init__(self) -> None:
        self.check: Check | None = None
        self.text = ""
        self.complaint = ""
        self.left_s = 0.0
        """The sweep waits so much longer for an answer [s]."""

    def see(self, bench: Bench, run: LiveRun) -> None:
        """Notice a new check, or that its time is over."""
        asked = bench.view.check
        if asked is not None:
            bench.view.check = None
            self.check, self.text, self.complaint = run.check(asked.check), "", ""
        stopping = run.stop_path is not None and run.stop_path.tripped
        if self.check is not None and (stopping or bench.sweep.phase.name != "checking"):
            self.check = None
        if self.check is not None:
            self.left_s = max(bench.sweep.phase.due_s - bench.now_s(), 0.0)

    def typing(self) -> Typing | None:
        """The question as the page shows it."""
        if self.check is None:
            return None
        hint = f"An empty line leaves it out; in {self.left_s:.0f} s the sweep goes on without it."
        question = question_of(self.check)
        return Typing(question, "", self.text, self.complaint, hint, takes_letters=True)

    def add(self, sign: str) -> None:
        """One more sign; a space stops, so it never comes here."""
        if self.check is not None and len(self.text) < LONGEST:
            self.text += sign
            self.complaint = ""

    def rub_out(self) -> None:
        """Take the last sign back."""
        self.text = self.text[:-1]

    def take(self) -> tuple[str, Answer] | None:
        """The check and its answer, None for one left out; nothing when it cannot be taken."""
        if self.check is None:
            return None
        try:
            answer = answer_from_text(self.check, self.text)
            evaluate(self.check, answer)
        except BenchError as error:
            self.complaint = str(error)
            return None
        name, self.check, self.text = self.check.name, None, ""
        return name, answer
