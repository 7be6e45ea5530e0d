"""The sweep page: numbers five times a second, the curve twice."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import ClassVar

from textual import events

from acquire.bench import Bench
from acquire.live_run import LiveRun
from acquire.screens.checks_box import ChecksBox
from acquire.screens.hands_view import hands_rows
from acquire.screens.page import Page
from acquire.screens.ready_page import TextBox
from acquire.screens.rows import EMPTY, Row, row, wrapped
from acquire.screens.speed_check import SpeedCheckLine
from acquire.screens.sweep_facts import SweepFacts, Typing
from acquire.screens.sweep_gather import SweepLooks, question_words
from acquire.screens.sweep_view import sweep_rows
from acquire.screens.typed_reading import TypedReading
from acquire.sweep.commands import Act, CheckAnswered, HoldLonger, SkipStep, TakeNow
from profiles.channels import CHANNELS

CHART_EVERY_S = 0.5
TYPED_KEYS = {"full_stop": ".", "comma": ",", "minus": "-", "plus": "+"}


class SweepPage(Page):
    """One run, from its first reading to the rig at rest."""

    name_in_words: ClassVar[str] = "sweep"
    keys: ClassVar[dict[str, str]] = {
        "h": "hold", "t": "take", "k": "skip", "n": "note", "i": "instruments",
        "enter": "take typed", "backspace": "rub out",
    }  # fmt: skip

    def __init__(self) -> None:
        super().__init__()
        self._looks: SweepLooks | None = None
        self._drawn_s = -1.0
        self._typed = TypedReading()
        self._check = SpeedCheckLine()

    # ---- looking ---------------------------------------------------------------------------

    def tick(self) -> None:
        """Move on to the result when the run is over."""
        keeper = self.bench_app.keeper
        if keeper.state == "asking":
            self.bench_app.open_page(
                ChecksBox(keeper.to_ask, keeper.answered, caution=keeper.rest_words)
            )
        elif not keeper.busy:
            self.bench_app.run_is_over()

    def facts(self) -> SweepFacts | None:
        """One look at the run; None while it is being begun or sealed."""
        keeper = self.bench_app.keeper
        run, bench = keeper.run, keeper.bench
        if run is None or bench is None or keeper.state in ("asking", "ending"):
            return None  # nobody takes readings any more: what there is grows old
        if self._looks is None:
            self._looks = SweepLooks(run, lambda: self.bench_app.memory.earlier_points)
        now_s = time.monotonic()
        if now_s - self._drawn_s >= CHART_EVERY_S:
            self._drawn_s = now_s
            self._looks.draw(bench)
        self._typed.see(bench, run)
        self._check.see(bench, run)
        return self._looks.facts(bench, self._typing())

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        facts = self.facts()
        if facts is None:
            keeper = self.bench_app.keeper
            hands, _ = keeper.left_to_do(stopped=True)
            waiting = waiting_rows(
                keeper.state, width, stopped=keeper.stopped_early, rest=keeper.rest_words
            )
            return [*hands_rows(hands, "", width, height, self.look), *waiting]
        if self.said:
            facts = with_advice(facts, self.said)
        return sweep_rows(facts, width, height, self.look)

    def _typing(self) -> Typing | None:
        question = self._typed.question
        if question is None:
            return self._check.typing()
        unit = CHANNELS[question.channel].unit_of_measure
        return Typing(question_words(question), unit, self._typed.text, self._typed.complaint)

    # ---- keys ------------------------------------------------------------------------------

    def act_for(self, event: events.Key) -> str:
        if self._check.check is not None:
            return self._act_for_check(event)
        if self._typed.question is not None:
            sign = TYPED_KEYS.get(event.key, event.character or "")
            if sign and sign in "0123456789.,-+":
                return f"digit {sign}"
        return "" if event.key == "escape" else super().act_for(event)

    def _act_for_check(self, event: events.Key) -> str:
        """While a check is asked, letters and figures are its answer."""
        if event.key in ("question_mark", "enter", "backspace"):
            return super().act_for(event)
        if event.character is not None and event.is_printable:
            self._check.add(event.character)
        return "nothing"

    def act_nothing(self) -> None:
        """A sign of an answer."""

    def act_digit(self, sign: str) -> None:
        """A figure typed for a reading."""
        self._typed.add(sign)

    def act_rub_out(self) -> None:
        """Take the last figure back."""
        self._check.rub_out()
        self._typed.rub_out()

    def act_take_typed(self) -> None:
        """The reading is typed whole."""
        keeper = self.bench_app.keeper
        if keeper.bench is not None and keeper.run is not None:
            if self._check.check is not None:
                self._keep_check(keeper.bench, keeper.run)
            else:
                self._typed.take(keeper.bench, keeper.run)

    def _keep_check(self, bench: Bench, run: LiveRun) -> None:
        """The answer goes to the disk behind the page; then the sweep goes on."""
        taken = self._check.take()
        if taken is None:
            return
        name, answer = taken

        def keep() -> str:
            words = run.answer(name, answer).words if answer is not None else f"{name}: not done"
            bench.act(CheckAnswered(name))
            return words

        self.bench_app.behind(self, keep)

    def act_hold(self) -> None:
        """Hold this speed longer."""
        self._act(HoldLonger(), "Holding 30 s longer; no point is taken before.")

    def act_take(self) -> None:
        """Take the point as it stands."""
        self._act(TakeNow(), "Taken as it stands; what had not settled widens its doubt.")

    def act_skip(self) -> None:
        """Leave this speed, or end the warm-up."""
        self._act(SkipStep(), "Skipped.")

    def _act(self, act: Act, words: str) -> None:
        bench = self.bench_app.keeper.bench
        if bench is not None and not self._stopping():
            bench.act(act)
            self.said = words

    def _stopping(self) -> bool:
        run = self.bench_app.keeper.run
        return run is None or run.stop_path is None or run.stop_path.tripped

    def act_note(self) -> None:
        """A word for the record, with the time."""
        self.bench_app.open_page(
            TextBox(
                "Note for the record of this run.",
                "",
                self._noted,
                "The space bar stops the run here too: put - or _ between words.",
            )
        )

    def _noted(self, text: str) -> str | None:
        run = self.bench_app.keeper.run
        if not text:
            return None
        if run is None or run.record is None:
            return "The run is over; add the note on the result."
        record = run.record

        def write() -> str:
            record.append("operator note", {"text": text})
            return "Noted."

        self.bench_app.behind(self, write)
        return None

    def act_instruments(self) -> None:
        """Raw traffic and statistics while it runs."""
        self.bench_app.show_instruments()


def with_advice(facts: SweepFacts, said: str) -> SweepFacts:
    """The same look with an answer to the last key."""
    from dataclasses import replace

    return replace(facts, advice=said)


def waiting_rows(state: str, width: int, *, stopped: str = "", rest: str = "") -> list[Row]:
    """Between pages: what is being done, in one sentence.

    `stopped`: what stopped the beginning; `rest`: whether the rig is at rest.
    """
    words = {
        "beginning": "The rig is being opened and the record begun; the space bar stops this too.",
        "running": "The run begins.",
        "asking": f"{rest} The checks after the sweep are asked.".strip(),
        "ending": f"{rest} The result is being worked out and the record locked.".strip(),
    }.get(state, "One moment.")
    if stopped:
        words = f"Stopping: {stopped} Nothing will turn."
    return [EMPTY, *(row(" ", one) for one in wrapped(words, width - 2, "strong"))]
