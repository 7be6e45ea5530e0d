"""A test in plain lines: cautions, live lines, typed readings, result."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Literal

from acquire.asked_checks import asked
from acquire.bench import Bench
from acquire.cautions import cautions_for, wiring_for
from acquire.cli.answers import Answers
from acquire.cli.check_questions import STOP_WORDS, ask_all, ask_one, left_to_ask
from acquire.cli.exit_codes import Exit, exit_for
from acquire.cli.live_text import live_block, point_line
from acquire.cli.lost_output import dropping_output
from acquire.cli.questions import confirmed, forget_typed_ahead
from acquire.cli.result_text import result_text
from acquire.cli.voice import Voice, is_terminal
from acquire.cli.which_file import taken
from acquire.drive_power import stall_words
from acquire.ending import RunEnd
from acquire.errors import CutOffError, OrderError, RunFileError
from acquire.freshness import quiet_words
from acquire.judge.checks import Answer
from acquire.live_run import LiveRun
from acquire.resuming import Interrupted
from acquire.run_order import DEFAULT_RULE, RunOrder
from acquire.sentences import now_doing
from acquire.signal_watch import SignalWatch, happened, suspend_now
from acquire.stop_path import StopEvent, StopReason
from acquire.stop_words import left_to_do, rest_sentence
from acquire.sweep.commands import CheckAnswered, TypeReading
from acquire.typed_doubt import ONCE_MORE, far_off
from acquire.typed_number import typed_number
from profiles.catalogue import load_rule
from profiles.channels import CHANNELS
from profiles.errors import BenchError

REDRAW_S = 0.2
WAIT_S = 0.05


class PlainRun:
    """Runs one order and returns its exit code."""

    def __init__(
        self,
        voice: Voice,
        order: RunOrder,
        *,
        confirmed: bool,
        going_on: Interrupted | None = None,
        given: Mapping[str, Answer] | None = None,
    ) -> None:
        """`confirmed`: nobody is asked. `given`: answers to checks, by name."""
        self._voice = voice
        self._order = order
        self._going_on = going_on
        self._confirmed = confirmed
        self._given: dict[str, Answer] = dict(given or {})
        self._answers: Answers | None = None
        self._asked: TypeReading | None = None
        self._doubted: float | None = None
        """What was typed and questioned; typed once more it is taken."""
        self._shown_points = 0
        self._shown_notes = 0
        self._shown_events: int | None = None
        """What the stop path did and was said; None before there is a stop."""
        self._last_sentence = ""
        self._kept: set[str] = set()

    def run(self) -> int:
        """Cautions, ports, sweep, verdict.

        Raises:
            CutOffError: Something of ours went wrong once the test was under way.
        """
        from acquire.cli.places import shelf_to_write
        from acquire.record.signing import workshop_key

        shelf = shelf_to_write(self._voice)
        run = LiveRun(self._order, shelf=shelf, key=workshop_key(), going_on=self._going_on)
        try:
            with dropping_output():
                return self._from_cautions_on(run, shelf)
        except BenchError as error:
            if not run.under_way:
                raise
            raise CutOffError(error.what_was_wrong, what_to_do=error.what_to_do) from error

    def _from_cautions_on(self, run: LiveRun, shelf: Path) -> int:
        with run:
            self._say_if_tested_today(shelf)
            accepted = self._cautions()
            self._ask_checks("before")
            with SignalWatch(
                lambda name: run.stop(StopReason("signal", happened(name))),
                on_suspend=lambda: self._suspend(run),
            ):
                return self._test(run, accepted)

    def _test(self, run: LiveRun, accepted: dict[str, object]) -> int:
        self._voice.talk(self.opening())
        run.open()
        bench = run.begin(accepted, attended=not self._confirmed)
        self._keep_answers(run)
        self._watch(run, bench)
        report = run.stop_path.report if run.stop_path else None
        if run.complete:
            self._ask_checks("after", rest_sentence(report) if report else "")
        self._keep_answers(run)
        end = run.end()
        tell_end(
            self._voice,
            self._order,
            end,
            report.events[self._shown_events or 0 :] if report else (),
            left=left_to_do(report, stopped=end.stopped) if report else ("", ""),
        )
        return exit_of(end)

    def _suspend(self, run: LiveRun) -> None:
        """Ctrl-Z: the rig stands still before this program does."""
        if run.stop_path is not None:
            run.stop_path.wait()
        suspend_now()

    # ---- before ----------------------------------------------------------------------------

    def opening(self) -> str:
        """What is tested by what: each profile and its file; a drive that is too weak."""
        order = self._order
        simulated = "  SIMULATED: a machine in software." if self._order.simulated else ""
        named = [taken("rigs", order.rig) + simulated]
        if order.rated is not None:
            named.append(taken("alternators", order.rated))
        named.append(taken("methods", order.method))
        rule = order.rule
        if rule is None and order.rated is not None and order.accept is None:
            rule = load_rule(DEFAULT_RULE)
        if rule is not None:
            named.append(taken("rules", rule))
        stall = stall_words(order.rig.profile, order.plan(), order.rated_curve)
        return "\n".join([*named, *([f"  ! {stall}"] if stall else [])])

    def _say_if_tested_today(self, shelf: Path) -> None:
        """A serial that was tested today at the same stage: perhaps the wrong unit, or stage."""
        order = self._order
        if not order.serial or self._going_on is not None:
            return
        from acquire.shelf.same_day import told_by_shelf

        now = datetime.now().astimezone()
        with contextlib.suppress(BenchError):  # an index that cannot be read keeps nobody
            words = told_by_shelf(
                shelf, order.serial, stage=order.stage, simulated=order.simulated, now=now
            )
            if words:
                self._voice.talk(f"  ! {words}")

    def _cautions(self) -> dict[str, object]:
        """Show cautions and wiring; who accepted them, for the record.

        Raises:
            OrderError: If nobody confirmed them and nobody can be asked.
        """
        cautions = cautions_for(self._order.rig.profile)
        curve = self._order.rated_curve
        wiring = wiring_for(curve, self._order.rig.profile)
        ticked = list(wiring)
        self._voice.talk("Before it turns:")
        for line in cautions:
            self._voice.talk(f"  - {line}")
        self._voice.talk("Wiring of this unit: " + "; ".join(wiring) + ".")
        how = "--yes" if self._confirmed else self._ask_cautions(ticked)
        return {"how": how, "cautions": list(cautions), "wiring": ticked}

    def _ask_cautions(self, wiring: list[str]) -> str:
        if not sys.stdin.isatty():
            raise OrderError(
                "The cautions were not confirmed and nobody can be asked.",
                what_to_do="Check the rig, then give --yes.",
            )
        forget_typed_ahead()
        questions = ["All of these are kept", *wiring]
        for question in questions:
            if not confirmed(question, self._voice.talk):
                raise OrderError(f"Not confirmed: {question}. Nothing was started.")
        return "each typed yes"

    # ---- checks ----------------------------------------------------------------------------

    def _ask_checks(self, when: Literal["before", "after"], rest: str = "") -> None:
        """Ask what belongs before or after the sweep, at standstill; `rest`: whether it is so."""
        answered = {**(self._going_on.answers if self._going_on else {}), **self._given}
        checks = left_to_ask(asked(self._order.method.profile, when), answered)
        if self._confirmed or not checks:
            return
        if rest:
            self._voice.talk(rest)
        self._voice.talk(f"Checks {when} the sweep, at standstill:")
        self._given |= ask_all(self._voice, self._typing(), checks)

    def _keep_answers(self, run: LiveRun) -> None:
        """Everything answered so far goes into the record.

        What the disk refuses waits there and goes first when it takes again.
        """
        for name, answer in self._given.items():
            if name not in self._kept:
                self._kept.add(name)
                try:
                    run.answer(name, answer)
                except RunFileError as error:
                    self._voice.talk(f"  ! {error}")

    def _speed_check(self, run: LiveRun, bench: Bench) -> None:
        """A check whose speed is now held."""
        question, bench.view.check = bench.view.check, None
        if question is None:
            return
        volts = bench.view.latest.get("volts")
        known = volts is not None and volts.usable and volts.value is not None
        hint = f" now {volts.value:.2f} V at B+" if known and volts is not None else ""
        answer = ask_one(
            self._voice,
            self._typing(),
            run.check(question.check),
            going_on=lambda: not bench.wait(0.0) and bench.sweep.phase.name == "checking",
            hint=hint,
            stop=lambda: bench.stop(StopReason("operator", "the operator typed stop")),
        )
        if answer is not None:
            self._given[question.check] = answer
            self._keep_answers(run)
        bench.act(CheckAnswered(question.check))

    def _typing(self) -> Answers:
        if self._answers is None:
            self._answers = Answers()
        return self._answers

    # ---- during ----------------------------------------------------------------------------

    def _watch(self, run: LiveRun, bench: Bench) -> None:
        live = is_terminal(sys.stderr) and not self._types(bench)
        if live:
            self._watch_live(run, bench)
        while not bench.wait(WAIT_S):
            self._show_points(bench)
            self._show_stop(run)
            self._show_sentence(run, bench)
            self._questions(run, bench)
            self._speed_check(run, bench)
        self._show_points(bench)

    def _types(self, bench: Bench) -> bool:
        return bool(bench.sweep.plan.typed or bench.sweep.checks)

    def _watch_live(self, run: LiveRun, bench: Bench) -> None:
        from rich.console import Console
        from rich.live import Live
        from rich.text import Text

        console = Console(stderr=True, highlight=False)
        with Live(console=console, auto_refresh=False, transient=True) as live:
            while not bench.wait(REDRAW_S):
                self._show_points(bench, say=lambda text: live.console.print(Text(text)))
                self._show_stop(run, say=lambda text: live.console.print(Text(text)))
                report = run.stop_path.report if run.stop_path is not None else None
                live.update(Text(live_block(bench, run.rig, report)), refresh=True)

    def _show_points(self, bench: Bench, say: object = None) -> None:
        """Points taken and notes made since the last look."""
        talk = say if callable(say) else self._voice.talk
        for point in bench.view.points[self._shown_points :]:
            talk(point_line(point, unsteady=bench.points.seen.unsteady(point.step)))
            self._shown_points += 1
        for note in bench.view.notes[self._shown_notes :]:
            talk(f"  {note}")
            self._shown_notes += 1

    def _show_stop(self, run: LiveRun, say: object = None) -> None:
        """Why it stops, and what fails meanwhile, at once: a shaft may still turn for long."""
        report = run.stop_path.report if run.stop_path is not None else None
        if report is None:
            return
        talk = say if callable(say) else self._voice.talk
        if self._shown_events is None:
            self._shown_events = 0
            if report.reason.kind != "complete":
                talk(f"Stopping: {report.reason.words}")
        events = report.events[self._shown_events :]
        self._shown_events += len(events)
        for event in events:
            if not event.ok:
                talk(f"  ! {event.words}")

    def _show_sentence(self, run: LiveRun, bench: Bench) -> None:
        """Without a live terminal a line is written when something new begins."""
        stopping = run.stop_path is not None and run.stop_path.tripped
        quiet = quiet_words(bench, run.rig).partition(";")[0]
        doing = quiet or now_doing(bench.sweep, bench.now_s())
        sentence = "" if stopping else doing.split(". ")[0]
        if sentence and sentence != self._last_sentence:
            self._last_sentence = sentence
            self._voice.talk(sentence.rstrip(".") + ".")
        if bench.view.hands is not None:
            hands, bench.view.hands = bench.view.hands, None
            self._voice.talk(f"  >>> {hands.words}  {hands.detail}".rstrip())

    # ---- typed readings --------------------------------------------------------------------

    def _questions(self, run: LiveRun, bench: Bench) -> None:
        question = bench.view.question
        if question is None:
            self._stop_if_typed(bench)
            return
        answers = self._typing()
        if question is not self._asked:
            self._asked, self._doubted = question, None
            self._prompt(question)
        answer = answers.next(WAIT_S)
        if answer is not None:
            self._take_answer(run, bench, question, answer)
        elif answers.ended:
            bench.stop(StopReason("operator", "nobody types readings any more"))

    def _stop_if_typed(self, bench: Bench) -> None:
        """Where readings are typed, `stop` is heard also while nothing is asked."""
        word = self._typing().heard(STOP_WORDS) if self._types(bench) else None
        if word is not None:
            bench.stop(StopReason("operator", f"the operator typed {word}"))

    def _prompt(self, question: TypeReading) -> None:
        kind = CHANNELS[question.channel]
        again = "again " if question.again else ""
        self._voice.talk(
            f"At {question.set_rpm:.0f} rpm, {again}{kind.words} [{kind.unit_of_measure}]:"
        )

    def _take_answer(self, run: LiveRun, bench: Bench, question: TypeReading, answer: str) -> None:
        if answer.lower() in STOP_WORDS:
            bench.stop(StopReason("operator", f"the operator typed {answer}"))
            return
        value = typed_number(answer)
        if isinstance(value, str):
            self._voice.talk(value)
            return
        if run.wiring is None or self._questioned(run, question, value):
            return
        bench.view.question = None  # before the reading goes out: the next one may come at once
        try:
            run.wiring.type_reading(question.channel, value)
        except BenchError as error:
            self._voice.talk(str(error))
            bench.view.question = question

    def _questioned(self, run: LiveRun, question: TypeReading, value: float) -> bool:
        """True where a figure is hard to believe and somebody can type it once more."""
        doubt = far_off(question, value, run)
        if not doubt or value == self._doubted:
            return False
        self._doubted = value
        by_hand = self._typing().by_hand
        self._voice.talk(f"  ! {doubt} {ONCE_MORE}" if by_hand else f"  ! {doubt}")
        return by_hand


def tell_end(
    voice: Voice,
    order: RunOrder,
    end: RunEnd,
    events: Sequence[StopEvent] = (),
    *,
    left: tuple[str, str] = ("", ""),
) -> None:
    """The result, what did not work while the rig was brought to rest, and what is left to do.

    `left`: for the hands, in large words and in a sentence.
    """
    voice.result(result_text(end, order))
    for event in events:
        if not event.ok:
            voice.talk(f"  ! {event.words}")
    hands, words = left
    if hands:
        voice.talk(f"  >>> {hands}")
    if words:
        voice.talk(f"  ! {words}")
    voice.document(
        {
            **end.judgement.document,
            "run": str(end.folder),
            "simulated": order.simulated,
            "finished": end.not_finished is None,
        }
    )


def exit_of(end: RunEnd) -> Exit:
    """The exit code of a run."""
    if end.not_finished is not None:
        return Exit.USAGE if end.stopped and not end.under_way else Exit.STOPPED
    if not end.stopped:
        return exit_for(end.judgement.verdict.outcome)
    if end.reason.kind in ("lost", "error", "guard") and not end.under_way:
        return Exit.NOT_USABLE
    return Exit.STOPPED
