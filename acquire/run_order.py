"""What is to be run: the profiles, the unit, the job; checked before anything opens."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise

from acquire.errors import OrderError
from acquire.record.run_header import Job, RunHeader, Snapshot, this_host
from acquire.sweep.plan import SweepPlan, plan_sweep
from acquire.typed_number import typed_number
from acquire.version import __version__
from profiles.alternator import AlternatorProfile, RatedCurve
from profiles.catalogue import Loaded
from profiles.method import Method
from profiles.plain_text import shown
from profiles.rig import Rig
from profiles.rule import Accept, Rule

DEFAULT_RULE = "within-10-percent"
DEFAULT_METHOD = "quick"


@dataclass(frozen=True, slots=True)
class RunOrder:
    """One test of one unit, as ordered."""

    rig: Loaded[Rig]
    method: Loaded[Method]
    rated: Loaded[AlternatorProfile] | None = None
    rule: Loaded[Rule] | None = None
    steps: tuple[float, ...] | None = None
    job: Job = field(default_factory=Job)
    unit: str | None = None
    serial: str | None = None
    stage: str | None = None
    operator: str | None = None

    @property
    def rated_curve(self) -> RatedCurve | None:
        """The rated curve, where one was given."""
        return None if self.rated is None else self.rated.profile.rated_curve()

    @property
    def accept(self) -> Accept | None:
        """The acceptance rule in force: the rule's, else the method's own."""
        if self.rule is not None:
            return self.rule.profile.accept
        return self.method.profile.accept

    @property
    def simulated(self) -> bool:
        """True when the rig is a machine in software."""
        return self.rig.profile.simulated is not None

    def plan(self) -> SweepPlan:
        """The plan of the sweep.

        Raises:
            PlanError: If rig, method and rated curve do not make a sweep together.
        """
        return plan_sweep(
            rig=self.rig.profile,
            method=self.method.profile,
            rated=self.rated_curve,
            steps=self.steps,
        )

    def header(self, plan: SweepPlan) -> RunHeader:
        """run.json as it stands at the beginning; id and times are set when it is written."""
        return RunHeader(
            program=f"steadyamps {__version__}",
            run_id="not begun",
            began_utc="2000-01-01T00:00:00Z",
            simulated=self.simulated,
            job=self.job,
            unit=self.unit,
            serial=self.serial,
            stage=self.stage,
            operator=self.operator,
            steps=tuple(step.set_rpm for step in plan.steps if step.direction == "up"),
            rig=Snapshot.of(self.rig),
            rated=Snapshot.of(self.rated) if self.rated else None,
            method=Snapshot.of(self.method),
            rule=Snapshot.of(self.rule) if self.rule else None,
            host=this_host(),
        )


def with_fault(rig: Loaded[Rig], fault: str | None) -> Loaded[Rig]:
    """The same rig with a fault, as `NAME` or `NAME@S`.

    Raises:
        OrderError: If the rig is a real one.
        ProfileError: If there is no such fault, or none from that second on.
    """
    if fault is None:
        return rig
    simulated = rig.profile.simulated
    if simulated is None:
        raise OrderError(
            f"--fault {fault}: '{rig.profile.title}' is a real rig; faults are for simulated ones.",
            what_to_do="Leave --fault out, or give --rig simulated.",
        )
    from drivers.simulated.faults import read_faults

    read_faults(fault)  # before any caution is shown
    changed = simulated.model_copy(update={"fault": fault})
    return replace(rig, profile=rig.profile.model_copy(update={"simulated": changed}))


def with_machine(rig: Loaded[Rig], rated: Loaded[AlternatorProfile] | None) -> Loaded[Rig]:
    """A shipped simulated rig turns the machine that bears the rated curve's name, if there is one.

    Whoever tries the program with another rated curve wants to see that unit, not a wrong one.
    """
    simulated = rig.profile.simulated
    if simulated is None or simulated.served or rig.origin != "shipped" or rated is None:
        return rig
    from drivers.simulated.machines import MACHINES

    machine = MACHINES.get(rated.path.stem) if rated.path is not None else None
    if machine is None or machine.name == simulated.machine:
        return rig
    if machine.nominal_volts != MACHINES[simulated.machine].nominal_volts:
        return rig
    changed = simulated.model_copy(update={"machine": machine.name})
    return replace(rig, profile=rig.profile.model_copy(update={"simulated": changed}))


SLOWEST_AFTER = 100.0
"""A slower step after a faster one is the end of a number typed with a decimal comma [rpm]."""


def steps_from(text: str | None, *, option: str = "--steps") -> tuple[float, ...] | None:
    """Shaft speeds [rpm] typed as `1500,1800,2400` after an option.

    Raises:
        OrderError: If one is no speed.
    """
    if text is None:
        return None
    words = text.replace(" ", "").strip(",").split(",")
    speeds = tuple(_speed(word, option) for word in words)
    for (before, rpm), (whole, part) in zip(pairwise(speeds), pairwise(words), strict=True):
        if rpm < SLOWEST_AFTER <= before:
            raise OrderError(
                f"{option}: {rpm:g} rpm after {before:g} rpm; was the comma meant for decimals?",
                what_to_do=f"Write {whole}.{part} with a point, or the speeds by rising speed.",
            )
    return speeds


def _speed(word: str, option: str) -> float:
    rpm = typed_number(word)
    if isinstance(rpm, str) or not 0 < rpm <= 30000:
        raise OrderError(
            f"{option}: {shown(word)} is no shaft speed in rpm.",
            what_to_do="Write them as 1500,1800,2400, each above 0 and up to 30000.",
        )
    return rpm
