"""The ready page: choose, tick, begin."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual import events

from acquire.resuming import Interrupted, interrupted
from acquire.screens.boxes import Box, ChooseBox, Entry
from acquire.screens.checks_box import ChecksBox
from acquire.screens.choices import STAGES, rated_from_text
from acquire.screens.job_box import JobBox
from acquire.screens.keeper import Wanted
from acquire.screens.page import Page
from acquire.screens.ready_facts import ReadyFacts, ready_facts
from acquire.screens.ready_view import ready_rows
from acquire.screens.rows import Row
from profiles.catalogue import Kind, entries, load_method, load_rig, load_rule
from profiles.errors import BenchError

NONE = "(none)"
OF_THE_RUN = (
    "unit",
    "serial",
    "job",
    "job facts",
    "stage",
    "operator",
    "rated",
    "rig",
    "method",
    "rule",
)


class TextBox(Box):
    """Types one line and gives it to a function."""

    def __init__(
        self, question: str, typed: str, take: Callable[[str], str | None], hint: str = ""
    ) -> None:
        """`take` returns a sentence where it cannot take what was typed."""
        super().__init__(question, typed=typed, hint=hint)
        self._take = take

    def answered(self, answer: str) -> str:
        return self._take(answer) or ""


class PickBox(ChooseBox):
    """Chooses one thing and gives its key to a function."""

    def __init__(
        self,
        question: str,
        things: Sequence[Entry],
        take: Callable[[str], str | None],
        *,
        picked: str = "",
        typed_too: bool = False,
        hint: str = "",
    ) -> None:
        super().__init__(question, things, picked=picked, typed_too=typed_too, hint=hint)
        self._take = take

    def answered(self, answer: str) -> str:
        return self._take(answer) or ""


class ReadyPage(Page):
    """What is known, what is missing, what to do about it."""

    name_in_words: ClassVar[str] = "ready"
    keys: ClassVar[dict[str, str]] = {
        "u": "unit", "s": "serial", "j": "job", "t": "stage", "o": "operator", "d": "rated",
        "r": "rig", "m": "method", "a": "rule", "c": "cautions", "w": "tick all", "b": "begin",
        "p": "past", "e": "match", "i": "instruments", "g": "go on", "q": "quit",
        "space": "halt", "k": "checks",
        "l": "look again", "v": "job facts", **{str(n): f"tick {n}" for n in range(1, 10)},
    }  # fmt: skip

    def facts(self) -> ReadyFacts:
        """One look."""
        app = self.bench_app
        return ready_facts(
            app.choices,
            app.keeper,
            earlier=app.memory.earlier_words,
            interrupted=app.memory.interrupted_words if app.choices.going_on is None else "",
            watch=app.memory.watch,
            watch_trouble=app.memory.watch_trouble,
            last_stop=app.memory.last_stop,
            said=self.said,
        )

    def page_rows(self, width: int, height: int) -> Sequence[Row]:
        return ready_rows(self.facts(), width, height, self.look)

    def act_for(self, event: events.Key) -> str:
        return "" if event.key == "escape" else super().act_for(event)

    # ---- typed -----------------------------------------------------------------------------

    def _type(self, question: str, typed: str, take: Callable[[str], None], hint: str = "") -> None:
        def taken(text: str) -> None:
            take(text)
            self.bench_app.memory.look_for_earlier()

        self.bench_app.open_page(TextBox(question, typed, taken, hint))

    def act_unit(self) -> None:
        """What the unit is, in words."""
        choices = self.bench_app.choices
        self._type("What is the unit? A type, a maker's number, a mark on it.", choices.unit,
                   lambda text: setattr(choices, "unit", text))  # fmt: skip

    def act_serial(self) -> None:
        """The serial number; an earlier run of it is found by itself."""
        choices = self.bench_app.choices
        self._type("Serial number of the unit.", choices.serial,
                   lambda text: setattr(choices, "serial", text),
                   "An earlier run of the same serial is drawn beside this one.")  # fmt: skip

    def act_job(self) -> None:
        """The workshop's order."""
        choices = self.bench_app.choices
        self._type("Number of the job.", choices.job.number or "", choices.set_job_number)

    def act_job_facts(self) -> None:
        """For whom, from what, the complaint, the parts, the claim."""
        choices = self.bench_app.choices
        box = JobBox(choices.job, lambda job: setattr(choices, "job", job))
        self.bench_app.open_page(box)

    def act_operator(self) -> None:
        """Who tests."""
        choices = self.bench_app.choices
        self._type("Who tests?", choices.operator, choices.set_operator)

    def act_stage(self) -> None:
        """Before or after the rebuild, or something else."""
        choices = self.bench_app.choices
        things = [Entry(stage, stage) for stage in STAGES] + [Entry(NONE, "none of these")]

        def take(key: str) -> None:
            choices.stage = "" if key == NONE else key

        self.bench_app.open_page(
            PickBox(
                "At which stage is this test?",
                things,
                take,
                picked=choices.stage,
                typed_too=True,
                hint="Or type a word of your own.",
            )
        )

    # ---- chosen from files -----------------------------------------------------------------

    def _choose(
        self, kind: Kind, question: str, take: Callable[[str], None], *, none: str = "",
        typed_too: bool = False, hint: str = "",
    ) -> None:  # fmt: skip
        things = [Entry(e.name, e.title or e.name, f"{e.name}, {e.origin}") for e in entries(kind)]
        if none:
            things.append(Entry(NONE, none))

        def taken(key: str) -> str:
            try:
                take("" if key == NONE else key)
            except BenchError as error:
                return str(error)
            return ""

        box = PickBox(question, things, taken, typed_too=typed_too, hint=hint)
        self.bench_app.open_page(box)

    def act_rated(self) -> None:
        """The rated curve, or the plate."""
        choices = self.bench_app.choices

        def take(key: str) -> None:
            choices.rated = rated_from_text(key) if key else None
            choices.ticked.clear()

        self._choose(
            "alternators", "Which rated curve?", take, none="none: measure, do not judge",
            typed_too=True, hint="Or type the plate with its speeds, as in 45/90A 14V @1500/6000.",
        )  # fmt: skip

    def act_look_again(self) -> None:
        """Open the rig again: the plug is in now."""
        self.bench_app.open_rig()

    def act_rig(self) -> None:
        """The rig; it is opened at once."""
        app = self.bench_app

        def take(key: str) -> None:
            app.choices.rig = load_rig(key)
            app.choices.ticked.clear()
            app.open_rig()

        self._choose("rigs", "Which rig?", take, typed_too=True, hint="Or type the path of a file.")

    def act_method(self) -> None:
        """The method."""

        def take(key: str) -> None:
            self.bench_app.choices.set_method(load_method(key))

        self._choose("methods", "Which method?", take, typed_too=True)

    def act_rule(self) -> None:
        """How far below rated is allowed."""

        def take(key: str) -> None:
            self.bench_app.choices.rule = load_rule(key) if key else None

        self._choose("rules", "How far below rated is allowed?", take, none="as the method says")

    # ---- ticks -----------------------------------------------------------------------------

    def act_tick(self, number: str) -> None:
        """Tick one line of the wiring, or take the tick back."""
        if number == "all":
            self.act_tick_all()
            return
        lines = self.bench_app.choices.wiring
        if 1 <= int(number) <= len(lines):
            self.bench_app.choices.ticked ^= {lines[int(number) - 1]}

    def act_tick_all(self) -> None:
        """All of the wiring was looked at."""
        choices = self.bench_app.choices
        choices.ticked = set() if choices.wiring_ticked else set(choices.wiring)

    def act_cautions(self) -> None:
        """Read and accept."""
        if self.bench_app.choices.rig is None:
            self.said = "Choose the rig first; the cautions depend on it."
            return
        self.bench_app.show_cautions()

    def act_checks(self) -> None:
        """Answer the checks that come before the sweep."""
        choices = self.bench_app.choices
        checks = choices.checks_before
        if not checks:
            self.said = "This method has no checks before the sweep."
            return
        box = ChecksBox(checks, choices.answers.update, given=choices.answers)
        self.bench_app.open_page(box)

    # ---- going on --------------------------------------------------------------------------

    def act_begin(self) -> None:
        """Begin the run, when nothing is missing."""
        app = self.bench_app
        facts = self.facts()
        order = app.choices.order()
        if facts.missing or order is None:
            self.said = f"Not yet: {' '.join(facts.missing[:1])}"
            return
        choices = app.choices
        app.begin(Wanted(order, choices.accepted(), choices.going_on, dict(choices.answers)))

    async def do(self, act: str) -> None:
        """What an interrupted run was to be is not changed."""
        if act in OF_THE_RUN and self.bench_app.choices.going_on is not None:
            self.say("This run goes on as its own record has it; g makes a new run instead.")
            return
        await super().do(act)

    def act_go_on(self) -> None:
        """Go on with the interrupted run, or make a new one instead."""
        app = self.bench_app
        if app.choices.going_on is not None:
            app.choices.going_on = None
            return
        folder = app.memory.interrupted_folder
        if folder is None:
            return

        def go_on(run: Interrupted) -> None:
            app.choices.go_on_with(run)
            app.open_rig()
            self.say("Goes on where it was stopped, by its own record.")

        self.said = "Reading the run that goes on."
        app.behind(self, lambda: interrupted(folder), go_on)

    def act_halt(self) -> None:
        """No run is on: the space bar still tells the drive to stop."""
        if self.bench_app.keeper.halt_idle_drive():
            self.said = "No run is on; the drive was told to stop all the same."
        else:
            self.said = "No run is on and this rig has no drive: nothing to stop."

    def act_past(self) -> None:
        """Past tests."""
        self.bench_app.show_past()

    def act_match(self) -> None:
        """Which unit for which engine."""
        self.bench_app.show_match()

    def act_instruments(self) -> None:
        """Raw traffic, statistics, identity."""
        self.bench_app.show_instruments()

    def act_quit(self) -> None:
        """Leave."""
        self.bench_app.leave()
