"""What the operator has chosen for the next run, and what is still missing, in words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

from acquire.asked_checks import asked
from acquire.cautions import cautions_for, wiring_for
from acquire.judge.checks import Answer
from acquire.record.run_header import Job, RunHeader, Snapshot
from acquire.resuming import Interrupted
from acquire.run_order import DEFAULT_METHOD, DEFAULT_RULE, RunOrder
from acquire.sweep.plan import SweepPlan
from profiles.alternator import AlternatorProfile
from profiles.catalogue import Loaded, load_method, load_rated, load_rig, load_rule
from profiles.errors import BenchError
from profiles.method import Check, Method
from profiles.rig import Rig
from profiles.rule import Accept, Rule
from profiles.table import Table

Profile = TypeVar("Profile", bound=Table)
STAGES = ("before", "after", "incoming", "reference")


@dataclass(slots=True)
class Choices:
    """Everything a run needs. `None` = not chosen."""

    rig: Loaded[Rig] | None = None
    method: Loaded[Method] | None = None
    rated: Loaded[AlternatorProfile] | None = None
    rule: Loaded[Rule] | None = None
    steps: tuple[float, ...] | None = None
    unit: str = ""
    serial: str = ""
    job: Job = field(default_factory=Job)
    stage: str = ""
    operator: str = ""
    ticked: set[str] = field(default_factory=set)
    """Lines of the wiring that were ticked for this very unit."""
    cautions_by: dict[str, str] = field(default_factory=dict)
    """Title of the rig -> when its cautions were accepted (UTC); it holds for that day."""
    confirmed_elsewhere: bool = False
    """`--yes` was given: cautions and wiring are confirmed."""
    going_on: Interrupted | None = None
    former_job: Job = field(default_factory=Job)
    """That of the unit before: where the next one is of the same job, so is its customer."""
    answers: dict[str, Answer] = field(default_factory=dict)
    """Checks answered before the sweep, by name."""

    # ---- what follows from the choices -----------------------------------------------------

    def order(self) -> RunOrder | None:
        """The order, when rig and method are known."""
        if self.going_on is not None:
            return self.going_on.order
        if self.rig is None or self.method is None:
            return None
        return RunOrder(
            rig=self.rig,
            method=self.method,
            rated=self.rated,
            rule=self.rule,
            steps=self.steps,
            job=self.job,
            unit=self.unit or None,
            serial=self.serial or None,
            stage=self.stage or None,
            operator=self.operator or None,
        )

    def plan(self) -> SweepPlan | BenchError | None:
        """The sweep, or why it cannot be made."""
        order = self.order()
        if order is None:
            return None
        try:
            return order.plan()
        except BenchError as error:
            return error

    @property
    def wiring(self) -> tuple[str, ...]:
        """What must be connected on this very unit."""
        curve = self.rated.profile.rated_curve() if self.rated is not None else None
        return wiring_for(curve, self.rig.profile if self.rig is not None else None)

    @property
    def checks_before(self) -> list[Check]:
        """The checks of the method that are asked before the sweep."""
        return asked(self.method.profile, "before") if self.method is not None else []

    @property
    def cautions(self) -> tuple[str, ...]:
        """What must be accepted for this rig."""
        return cautions_for(self.rig.profile) if self.rig is not None else ()

    @property
    def cautions_accepted(self) -> bool:
        """True when the cautions of this rig have been accepted, today and for this unit."""
        if self.confirmed_elsewhere or self.rig is None:
            return self.confirmed_elsewhere
        accepted_utc = self.cautions_by.get(self.rig.profile.title)
        return accepted_utc is not None and _is_today(accepted_utc)

    @property
    def wiring_ticked(self) -> bool:
        """True when every line of the wiring is ticked."""
        return self.confirmed_elsewhere or set(self.wiring) <= self.ticked

    def accept_cautions(self) -> None:
        """The operator says that all of it is so."""
        if self.rig is not None:
            now = datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
            self.cautions_by[self.rig.profile.title] = now

    def accepted(self) -> dict[str, object]:
        """For the record: what was accepted, how and when."""
        title = self.rig.profile.title if self.rig is not None else ""
        how = "--yes" if self.confirmed_elsewhere else "accepted on the screen"
        return {
            "how": how,
            "accepted_utc": self.cautions_by.get(title),
            "cautions": list(self.cautions),
            "wiring": list(self.wiring),
        }

    # ---- changing them ---------------------------------------------------------------------

    def next_unit(self) -> None:
        """Another unit on the same rig: rig, method, rule and operator stay, all else is new."""
        self.unit = self.serial = self.stage = ""
        self.former_job, self.job = self.job, Job()
        self.rated, self.steps, self.answers = None, None, {}
        self.same_unit()

    def same_unit(self) -> None:
        """The same unit once more; it may have been off the rig, so it is looked at again."""
        self.going_on = None
        self._look_again()

    def set_operator(self, name: str) -> None:
        """Who tests; whoever takes over has read and seen nothing yet."""
        if self.operator and name != self.operator:
            self._look_again()
        self.operator = name

    def set_method(self, method: Loaded[Method]) -> None:
        """A method brings its own speeds; those asked for beside another one are forgotten."""
        self.method, self.steps = method, None

    def _look_again(self) -> None:
        """Wiring and cautions are to be seen to anew: they speak of the unit as it is mounted."""
        self.ticked.clear()
        self.cautions_by.clear()
        self.confirmed_elsewhere = False

    def go_on_with(self, run: Interrupted) -> None:
        """Go on with an interrupted run: everything as its record has it."""
        self.take_order(run.order)
        self.going_on = run

    @property
    def nothing_left(self) -> bool:
        """True where the run that goes on has only to be judged and sealed."""
        return self.going_on is not None and self.going_on.nothing_left(attended=True)

    @property
    def going_on_words(self) -> str:
        """As in `Goes on with the run of A-17: 3 of 4 speeds are there.`"""
        run = self.going_on
        if run is None:
            return ""
        name = self.serial or self.unit or run.folder.name
        plan = self.plan()
        of = f" of {len(plan.steps)}" if isinstance(plan, SweepPlan) else ""
        return f"Goes on with the run of {name[:28]}: {len(run.points)}{of} speeds are there."

    def take_order(self, order: RunOrder) -> None:
        """Choose what an order says."""
        self.rig, self.method = order.rig, order.method
        self.rated, self.rule, self.steps = order.rated, order.rule, order.steps
        self.unit, self.serial = order.unit or "", order.serial or ""
        self.stage, self.operator, self.job = order.stage or "", order.operator or "", order.job
        self.going_on = None
        self._look_again()

    def set_job_number(self, number: str) -> None:
        """The number of the workshop's order; where it is that of the unit before, so is the rest.

        What was complained of and fitted is each unit's own.
        """
        former = self.former_job
        if number and number == former.number and self.job == Job(number=self.job.number):
            self.job = former.model_copy(update={"complaint": None, "parts_fitted": None})
        self.job = self.job.model_copy(update={"number": number or None})

    @property
    def job_words(self) -> str:
        """What is known of the job beside its number, as in `Example Boats, harbour launch`."""
        job = self.job
        facts = (job.customer, job.fitted_to, job.complaint, job.parts_fitted, job.claim)
        return ", ".join(fact for fact in facts if fact)


def choices_like(header: RunHeader | None) -> Choices:
    """The bench as it was left: rig, method, rule and operator of the newest run."""
    choices = Choices()
    if header is not None:
        choices.operator = header.operator or ""
        choices.rig = _again(header.rig, load_rig)
        choices.method = _again(header.method, load_method)
        choices.rule = _again(header.rule, load_rule)
    if choices.method is None:
        choices.method = load_method(DEFAULT_METHOD)
    return choices


def _again(
    snapshot: Snapshot | None, load: Callable[[Path], Loaded[Profile]]
) -> Loaded[Profile] | None:
    """The profile of an earlier run as its file is today; None where that is gone or wrong."""
    if snapshot is None or snapshot.path is None:
        return None
    try:
        return load(Path(snapshot.path))
    except BenchError:
        return None


def _is_today(utc: str) -> bool:
    """True for a time on this computer's own day."""
    return datetime.fromisoformat(utc).astimezone().date() == datetime.now().astimezone().date()


def accept_in_force(order: RunOrder | None) -> Accept:
    """The acceptance rule a run of this order will be judged by."""
    accept = order.accept if order is not None else None
    return accept if accept is not None else load_rule(DEFAULT_RULE).profile.accept


def rated_from_text(text: str) -> Loaded[AlternatorProfile]:
    """A rated curve by name, file, or the text of a plate with its speeds.

    Raises:
        ProfileError: It is none of these, or wrong.
    """
    return load_rated(text)
