"""What the ready page shows: a tick list that fills itself, and what is missing in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from acquire.drive_power import stall_words
from acquire.judge.acceptance import acceptance_words
from acquire.last_stop import WHAT_TO_DO
from acquire.readiness import Item
from acquire.resuming import NOTHING_LEFT_WORDS
from acquire.screens.choices import Choices, accept_in_force
from acquire.screens.figures_facts import Figure, figure_of
from acquire.screens.keeper import Keeper, reasons_of
from acquire.screens.rows import Ink
from acquire.sweep.plan import SweepPlan
from profiles.channels import CHANNELS
from profiles.errors import BenchError
from profiles.rig import Rig

if TYPE_CHECKING:
    from acquire.study.reference_watch import ReferenceWatch

DOUBT = {"guarded": "doubt counts against passing", "simple": "as read"}


@dataclass(frozen=True, slots=True)
class Field:
    """One thing to be chosen or typed."""

    words: str
    """With its letter set off, as in `[u]nit`."""
    act: str
    value: str
    note: str = ""
    missing: bool = False


@dataclass(frozen=True, slots=True)
class Live:
    """One channel of the open rig."""

    figure: Figure
    age: str


@dataclass(frozen=True, slots=True)
class ReadyFacts:
    """One look at the bench before a run."""

    missing: tuple[str, ...]
    """What keeps the drive from being started, as sentences."""
    fields: tuple[Field, ...]
    job_words: str = ""
    """What is known of the job beside its number."""
    live: tuple[Live, ...] = ()
    rig_state: str = ""
    reasons: tuple[str, ...] = ()
    """Why the rig does not open."""
    warnings: tuple[tuple[str, str], ...] = ()
    """(words, what to do): what keeps nobody from starting the drive, to be known before."""
    notes: tuple[tuple[str, Ink, str], ...] = ()
    """(sign, ink, words) of what was found at standstill."""
    wiring: tuple[tuple[str, bool], ...] = ()
    cautions_accepted: bool = False
    checks: str = ""
    """As in `1 of 3 done`, of the checks before the sweep; empty where there are none."""
    earlier: str = ""
    interrupted: str = ""
    going_on: bool = False
    """The run that begins is the interrupted one."""
    nothing_left: bool = False
    """It has only to be judged and sealed."""
    simulated: bool = False
    driven: bool = True
    said: str = ""
    """The answer to the last key, where it needs one."""

    @property
    def ready(self) -> bool:
        """True when the run may begin."""
        return not self.missing

    @property
    def sentence(self) -> str:
        """The top line."""
        if self.missing:
            return f"Not ready. {' '.join(self.missing[:3])}"
        if self.nothing_left:
            return f"Ready. {NOTHING_LEFT_WORDS} Press b."
        turns = "The drive will turn" if self.driven else "You turn, the program follows"
        return f"Ready. {turns} when you press b; keep clear of the belt."


def ready_facts(
    choices: Choices,
    keeper: Keeper,
    *,
    earlier: str = "",
    interrupted: str = "",
    watch: ReferenceWatch | None = None,
    watch_trouble: str = "",
    last_stop: str = "",
    said: str = "",
) -> ReadyFacts:
    """Look at choices, rig, `watch` (the chart of its reference unit), and how it last stopped."""
    plan = choices.plan()
    rig = choices.rig.profile if choices.rig is not None else None
    live = _live(keeper, rig)
    left = choices.nothing_left
    return ReadyFacts(
        missing=() if left
        else (*what_is_missing(choices, plan, keeper), *_not_live(live, keeper)),
        fields=tuple(_fields(choices, plan)),
        job_words=choices.job_words,
        live=tuple(live),
        rig_state=_rig_state(keeper, rig),
        reasons=reasons_of(keeper.trouble) if rig is not None else (),
        warnings=(*_last_stop(last_stop), *_stalling(choices, plan), *reference_warnings(watch)),
        notes=(*_reference_notes(watch, watch_trouble), *_notes(keeper.items)),
        wiring=tuple((line, choices.confirmed_elsewhere or line in choices.ticked)
                     for line in choices.wiring),
        cautions_accepted=choices.cautions_accepted,
        checks=_checks_words(choices),
        earlier=earlier,
        interrupted=choices.going_on_words or interrupted,
        going_on=choices.going_on is not None,
        nothing_left=left,
        simulated=rig is not None and rig.simulated is not None,
        driven=rig is None or rig.drive is not None,
        said=said,
    )  # fmt: skip


def what_is_missing(
    choices: Choices, plan: SweepPlan | BenchError | None, keeper: Keeper
) -> list[str]:
    """What must be done before the drive may be started, the most pressing first."""
    out = []
    if choices.rig is None:
        out.append("Choose the rig.")
    if choices.rated is None and choices.going_on is None:
        if isinstance(plan, BenchError) or plan is None:
            out.append("Choose the rated curve, or type the plate with its speeds.")
    elif isinstance(plan, BenchError):
        out.append(str(plan))
    if choices.rig is not None:
        out += _rig_missing(keeper)
    if not choices.wiring_ticked:
        out.append("Tick the wiring of this unit.")
    if choices.rig is not None and not choices.cautions_accepted:
        out.append("Read the cautions and accept them.")
    return out


def _rig_missing(keeper: Keeper) -> list[str]:
    if keeper.trouble is not None:
        return ["The rig does not open; why stands below it."]
    if keeper.state == "opening":
        return ["The rig is being opened; this takes some seconds."]
    if keeper.state != "open":
        return ["The rig is not open."]
    if not keeper.items:
        return ["The rig is being looked at."]
    return [f"{i.name}: {i.words}. {i.what_to_do}".rstrip() for i in keeper.items
            if i.state == "bad"]  # fmt: skip


def _stalling(choices: Choices, plan: SweepPlan | BenchError | None) -> list[tuple[str, str]]:
    """Where the drive may not carry this unit."""
    order = choices.order()
    if order is None or not isinstance(plan, SweepPlan):
        return []
    words = stall_words(order.rig.profile, plan, order.rated_curve)
    return [(words, "")] if words else []


def _last_stop(words: str) -> list[tuple[str, str]]:
    return [(f"{words[:1].upper()}{words[1:]}.", WHAT_TO_DO)] if words else []


def reference_warnings(watch: ReferenceWatch | None) -> list[tuple[str, str]]:
    """The bench may not be where it was, or nobody has looked for long."""
    if watch is None or watch.state not in ("out of control", "old"):
        return []
    return [(f"{watch.words}.", watch.what_to_do)]


def _reference_notes(watch: ReferenceWatch | None, trouble: str) -> list[tuple[str, Ink, str]]:
    """What else is known of the chart."""
    if trouble:
        return [("~", "warn", trouble)]
    if watch is None or reference_warnings(watch):
        return []
    if watch.in_control:
        return [("=", "good", f"{watch.words}.")]
    return [("~", "warn", f"{watch.words}. {watch.what_to_do}".rstrip())]


def _checks_words(choices: Choices) -> str:
    checks = choices.checks_before
    if not checks:
        return ""
    done = sum(1 for check in checks if check.name in choices.answers)
    return f"{done} of {len(checks)} done"


def _not_live(live: Sequence[Live], keeper: Keeper) -> list[str]:
    """No run begins on a channel that has fallen silent since the rig was opened."""
    if keeper.state != "open" or not keeper.items:
        return []
    return [
        f"No live {one.figure.words} ({one.figure.state}): look at its cable and plug."
        for one in live
        if not one.figure.live
    ]


def _fields(choices: Choices, plan: SweepPlan | BenchError | None) -> list[Field]:
    return [
        Field("[u]nit", "unit", choices.unit),
        Field("[s]erial", "serial", choices.serial),
        Field("[j]ob", "job", choices.job.number or ""),
        Field("s[t]age", "stage", choices.stage),
        Field("[o]perator", "operator", choices.operator),
        _rated_field(choices),
        _rig_field(choices),
        _method_field(choices, plan),
        _allowed_field(choices),
    ]


def _rated_field(choices: Choices) -> Field:
    if choices.rated is None:
        return Field("rate[d]", "rated", "", "none: measured, not judged", missing=True)
    curve = choices.rated.profile.rated_curve()
    derived = ", derived from the plate" if curve.derived else ""
    note = f"{curve.state}, at {curve.volts:g} V{derived}"
    return Field("rate[d]", "rated", choices.rated.profile.title, note)


def _rig_field(choices: Choices) -> Field:
    if choices.rig is None:
        return Field("[r]ig", "rig", "", "not chosen", missing=True)
    rig = choices.rig.profile
    if rig.simulated is not None:
        fault = f", {rig.simulated.fault}" if rig.simulated.fault else ""
        return Field(
            "[r]ig", "rig", rig.title, f"SIMULATED, {rig.simulated.pace:g} s in one{fault}"
        )
    drive = "driven" if rig.drive is not None else "turned by hand"
    return Field("[r]ig", "rig", rig.title, drive)


def _method_field(choices: Choices, plan: SweepPlan | BenchError | None) -> Field:
    title = choices.method.profile.title if choices.method is not None else ""
    if not isinstance(plan, BenchError) and plan is not None:
        speeds = [f"{step.set_rpm:.0f}" for step in plan.steps]
        shown = " ".join(speeds[:8]) + (" ..." if len(speeds) > 8 else "")
        return Field("[m]ethod", "method", title, f"{shown} rpm")
    return Field("[m]ethod", "method", title, "speeds not known yet")


def _allowed_field(choices: Choices) -> Field:
    order = choices.order()
    accept = accept_in_force(order)
    return Field("[a]llowed", "rule", acceptance_words(accept), DOUBT[accept.decision])


def _rig_state(keeper: Keeper, rig: Rig | None) -> str:
    if rig is None:
        return "not chosen"
    return {"closed": "not open", "opening": "being opened", "open": "open"}.get(
        keeper.state, keeper.state
    )


def _live(keeper: Keeper, rig: Rig | None) -> list[Live]:
    """Every channel: value, age and quality; typed ones say so."""
    if rig is None or keeper.state == "closed":
        return []
    latest, now_s = keeper.latest(), keeper.now_s()
    out = []
    names = [*rig.channels, *(["drive_rpm"] if "drive_rpm" in latest else [])]
    for name in dict.fromkeys(names):
        channel = rig.channels.get(name)  # type: ignore[call-overload]
        if channel is not None and channel.driver == "hand":
            figure = Figure(name, _words(name), "", "", "=", "you type it")
            out.append(Live(figure, ""))
            continue
        every_s = float(getattr(channel, "every_s", 0.1))
        reading = latest.get(name)
        figure = figure_of(name, reading, now_s=now_s, look=None, every_s=every_s)
        age = f"{max(now_s - reading.t_s, 0.0):.1f} s" if reading is not None else ""
        out.append(Live(figure, age))
    return out


def _words(name: str) -> str:
    return CHANNELS[name].words


def _notes(items: Sequence[Item]) -> list[tuple[str, Ink, str]]:
    """What was found at standstill and needs a word; what is as it should be is left out."""
    out: list[tuple[str, Ink, str]] = []
    uncalibrated = []
    for item in items:
        subject = item.name.removeprefix("calibration of ")
        if item.name == "zero of the current sensor" and item.state == "good":
            out.append(("=", "good", f"zero {item.words.partition(',')[0]}"))
        elif item.state == "look" and subject != item.name and item.words.startswith("none"):
            uncalibrated.append(_words(subject) if subject in CHANNELS else subject)
        elif item.state == "look":
            words = f"{item.name}: {item.words}. {item.what_to_do}".rstrip()
            out.append(("~", "warn", words))
    if uncalibrated:
        out.append(("~", "warn", f"no calibration is stated for {', '.join(uncalibrated)}."))
    return out
