"""From the bench to what the sweep page shows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from acquire.bench import Bench
from acquire.freshness import EVERY_S, is_live, quiet_words
from acquire.hand_words import PRESSING_S, counted, load_counted
from acquire.judge.acceptance import limit_at
from acquire.judge.budget import HALF_WIDTH_K
from acquire.judge.rated_line import rated_at
from acquire.judge.steady_point import SteadyPoint
from acquire.live_run import LiveRun
from acquire.screens.choices import accept_in_force
from acquire.screens.curve_chart import CurvePicture
from acquire.screens.curve_facts import Measured, picture_of
from acquire.screens.figures_facts import SIDE, Figure, figure_of
from acquire.screens.judged_live import JudgedLive
from acquire.screens.step_pace import StepPace
from acquire.screens.sweep_facts import (
    KEEP_BATTERY,
    KEEP_CLEAR,
    Margin,
    StepLine,
    StepState,
    SweepFacts,
    Typing,
)
from acquire.screens.trend import Trends
from acquire.sentences import now_doing
from acquire.settle.looks import HoldLook
from acquire.stop_path import EMERGENCY, OPEN_PILE, TO_IDLE, StopReport
from acquire.stop_words import stopping_sentence
from acquire.sweep.commands import TypeReading
from acquire.sweep.feeding import Feeding
from acquire.sweep.hand_load import HandLoaded
from acquire.sweep.holding import Holding
from acquire.sweep.plan import Step, SweepPlan
from acquire.sweep.sweep import Silent
from acquire.sweep.throttle import Throttle
from acquire.sweep.warming import Warming
from drivers.readings import Reading
from profiles.alternator import RatedCurve
from profiles.channels import CHANNELS
from profiles.instrument import AnyChannel
from profiles.rig import Rig
from profiles.rule import Accept

LARGE = ("shaft_rpm", "amps", "volts", "case_c")
NEAR_LIMIT = 0.95
HAND_HOLD_S = 12.0
"""A load by hand is closed, set and held for about so long [s] (our choice, for the time left)."""


class SweepLooks:
    """Looks at one run; remembers what need not be worked out again at each look."""

    def __init__(self, run: LiveRun, before: Callable[[], Sequence[Measured]] = tuple) -> None:
        """`before` gives the points of an earlier run of this unit, as far as they are known."""
        self._run = run
        self._plan: SweepPlan = run.plan
        self._before = before
        self._rated: RatedCurve | None = run.order.rated_curve
        self._accept: Accept = accept_in_force(run.order)
        self._picture: CurvePicture | None = None
        self._trends = Trends()
        self._judged = JudgedLive(run)
        self._pace = StepPace()

    def facts(self, bench: Bench, typing: Typing | None) -> SweepFacts:
        """One look, as plain values."""
        now_s = bench.now_s()
        self._trends.see(list(bench.view.latest.values()))
        report = self._report()
        hands, detail = hands_now(bench, now_s) if report is None else hands_at_stop(bench, report)
        pressing, load = self._load(bench, now_s)
        sentence = quiet_words(bench, self._run.rig) or now_doing(bench.sweep, now_s)
        if typing is not None and bench.sweep.phase.name != "checking":
            sentence = typing_sentence(bench)
        return SweepFacts(
            sentence=stopping_sentence(report) if report is not None else sentence,
            title=self._title(),
            figures=tuple(self._figures(bench, now_s)),
            side=tuple(self._side(bench, now_s)),
            hands=hands,
            hands_detail=detail,
            typing=typing if report is None else None,
            load=load,
            load_pressing=pressing,
            steps=tuple(self._steps(bench)),
            picture=self._picture,
            margins=tuple(self._margins(bench, now_s)),
            progress=self._progress(bench, now_s),
            notes=tuple(bench.view.notes),
            simulated=self._run.order.simulated,
            stopping=tuple((event.words, event.ok) for event in list(report.events))
            if report is not None
            else (),
            is_stopping=report is not None,
            keep_clear=KEEP_BATTERY if hands in (OPEN_PILE, TO_IDLE) else KEEP_CLEAR,
            can_hold=isinstance(bench.sweep.phase, Holding),
            warming=isinstance(bench.sweep.phase, Warming),
        )

    def _title(self) -> str:
        order = self._run.order
        return " ".join(part for part in (order.serial, order.unit, order.stage) if part)

    # ---- figures ---------------------------------------------------------------------------

    def _figures(self, bench: Bench, now_s: float) -> list[Figure]:
        latest = bench.view.latest
        names = [n for n in LARGE if n in self._run.rig.channels or n == "shaft_rpm"]
        if "case_c" not in names and self._plan.speed_source == "engine_rpm":
            names.append("engine_rpm")
        return [self._figure(name, latest, bench, now_s) for name in names]

    def _figure(self, name: str, latest: dict[str, Reading], bench: Bench, now_s: float) -> Figure:
        source = self._plan.speed_source if name == "shaft_rpm" else name
        reading = latest.get(source)
        channel = channel_of(self._run.rig, source)
        if channel is not None and channel.driver == "hand":
            return _typed_figure(name, reading, now_s)
        used = bench.guard.margins().get(source, 0.0)
        figure = figure_of(
            name,
            reading,
            now_s=now_s,
            look=self._look(bench),
            every_s=self._every_s(source),
            scale=self._plan.speed_ratio if name == "shaft_rpm" else 1.0,
            less=bench.sweep.intake.zero_amps if name == "amps" else 0.0,
            limit_near=used > NEAR_LIMIT,
        )
        return self._with_trend(figure, source)

    def _with_trend(self, figure: Figure, source: str) -> Figure:
        """Where no test says what a value does, say which way it goes."""
        if not figure.live or figure.state not in ("", "waiting"):
            return figure
        kept = self._plan.channels.get(figure.channel)
        latest = float(figure.text or 0.0)
        tolerance = kept.tolerance(latest) if kept is not None else 0.005 * abs(latest)
        sign, state = self._trends.of(source, tolerance)
        return replace(figure, sign=sign, state=state)

    def _side(self, bench: Bench, now_s: float) -> list[Figure]:
        latest = bench.view.latest
        look = self._look(bench)
        return [
            figure_of(n, latest[n], now_s=now_s, look=look, every_s=self._every_s(n))
            for n in SIDE
            if n in latest
        ]

    def _every_s(self, name: str) -> float:
        return float(getattr(channel_of(self._run.rig, name), "every_s", EVERY_S))

    # ---- load, limits, steps ---------------------------------------------------------------

    def _load(self, bench: Bench, now_s: float) -> tuple[bool, str]:
        view = bench.view
        if view.load_on is None:
            return False, ""
        for_s = max(now_s - view.load_since_s, 0.0)
        if not view.load_on:
            return False, "load off"
        most = self._plan.hand_load.max_on_s if self._plan.hand_load is not None else None
        words, left_s = load_counted(on=True, since_s=view.load_since_s, now_s=now_s, most_s=most)
        return left_s < PRESSING_S, words or f"load on {_span(for_s)}"

    def _live(self, bench: Bench, channel: str, now_s: float) -> bool:
        return is_live(self._run.rig, bench.view.latest.get(channel), now_s)

    def _margins(self, bench: Bench, now_s: float) -> list[Margin]:
        out = []
        highest = bench.guard.highest
        for channel, used in bench.guard.margins().items():
            kind = CHANNELS[channel]
            limit = highest[channel]
            value = f"{used * limit:.{min(kind.decimals, 1)}f}"
            words = kind.words.removeprefix("output ")
            live = self._live(bench, channel, now_s)
            out.append(Margin(words, value, f"{limit:g} {kind.unit_of_measure}", used, live))
        return out

    def _steps(self, bench: Bench) -> list[StepLine]:
        points = {point.step: point for point in bench.points.points}
        current = bench.sweep.current
        return [self._step(step, points.get(step.number), current, bench)
                for step in self._plan.steps]  # fmt: skip

    def _step(
        self, step: Step, point: SteadyPoint | None, current: Step | None, bench: Bench
    ) -> StepLine:
        rated, allowed = self._limits(step.set_rpm)
        before = self._before_at(step.set_rpm)
        if point is None:
            state: StepState = "now" if current is not None and current == step else "to do"
            live = state == "now" and self._live(bench, "amps", bench.now_s())
            look = self._look(bench) if live else None
            amps = look.channels["amps"].mean if look and "amps" in look.channels else None
            return StepLine(step.set_rpm, state, amps, allowed=allowed, rated=rated, before=before)
        if not point.usable:
            return StepLine(step.set_rpm, "nothing", allowed=allowed, rated=rated, before=before,
                            word="", sign="!")  # fmt: skip
        amps = point.amps_at_set_rpm if point.amps_at_set_rpm is not None else point.amps
        u = point.u_amps_at_set_rpm or point.u_amps
        half = None if u is None else HALF_WIDTH_K * u
        sign, word = self._judged.word_of(bench, step.number)
        return StepLine(
            step.set_rpm, "done", amps, half, allowed, rated, before,
            volts=point.volts, case_c=point.case_c, settle_s=point.settle_s, word=word, sign=sign,
        )  # fmt: skip

    def _limits(self, shaft_rpm: float) -> tuple[float | None, float | None]:
        rated = rated_at(self._rated.points, shaft_rpm) if self._rated is not None else None
        return rated, None if rated is None else limit_at(rated, self._accept)

    def _before_at(self, shaft_rpm: float) -> float | None:
        near = min(self._before(), key=lambda p: abs(p.shaft_rpm - shaft_rpm), default=None)
        if near is None or abs(near.shaft_rpm - shaft_rpm) > 0.02 * shaft_rpm:
            return None
        return near.amps

    def _progress(self, bench: Bench, now_s: float) -> str:
        done, total = len(bench.points.points), len(self._plan.steps)
        if bench.sweep.current is None and done < total:
            return f"{done + 1} of {total}"
        return self._pace.words(done, total, now_s=now_s, at_least_s=at_least_s(bench, now_s))

    # ---- the picture -----------------------------------------------------------------------

    def draw(self, bench: Bench) -> None:
        """Make a new picture; asked for less often than the figures."""
        points = [
            Measured(p.shaft_rpm, p.amps, p.u_amps, p.settled != "no")
            for p in bench.points.points
            if p.shaft_rpm is not None and p.amps is not None
        ]
        last, now_s = bench.sweep.intake.last, bench.now_s()
        live = all(self._live(bench, name, now_s) for name in (self._plan.speed_source, "amps"))
        rpm, amps = (last.get("shaft_rpm"), last.get("amps")) if live else (None, None)
        self._picture = picture_of(
            speeds=[step.set_rpm for step in self._plan.steps],
            rated=self._rated,
            accept=self._accept if self._rated is not None else None,
            points=points,
            before=self._before(),
            now=(rpm.value, amps.value) if rpm is not None and amps is not None else None,
        )

    # ---- stopping --------------------------------------------------------------------------

    def _report(self) -> StopReport | None:
        """How the stop goes; None while the run is on."""
        path = self._run.stop_path
        return path.report if path is not None else None

    def _look(self, bench: Bench) -> HoldLook | None:
        """What the hold says of each channel; nothing of a shaft that comes to rest."""
        return look_of(bench) if self._report() is None else None


def channel_of(rig: Rig, name: str) -> AnyChannel | None:
    """How a channel is read on this rig; None where it is not."""
    return next((channel for known, channel in rig.channels.items() if known == name), None)


def look_of(bench: Bench) -> HoldLook | None:
    """The latest look at what must hold still, in whatever phase has one."""
    look = getattr(bench.sweep.phase, "look", None)
    return look if isinstance(look, HoldLook) else None


def at_least_s(bench: Bench, now_s: float) -> float:
    """The speed at hand takes so much longer, as far as that is told [s]."""
    phase, look = bench.sweep.phase, look_of(bench)
    waits_s = phase.ready_s - now_s if isinstance(phase, HandLoaded) else 0.0
    if waits_s > 0.0:
        waits_s += HAND_HOLD_S
    told_s = look.about_s if look is not None and look.about_s is not None else 0.0
    return max(waits_s, told_s, 0.0)


def hands_at_stop(bench: Bench, report: StopReport) -> tuple[str, str]:
    """What the hands must do while it comes to rest."""
    said = bench.view.hands
    if report.hands == EMERGENCY:
        return EMERGENCY, "then open the pile" if bench.pile_closed else ""
    detail = said.detail if said is not None and said.words == report.hands else ""
    return report.hands, detail


def hands_now(bench: Bench, now_s: float) -> tuple[str, str]:
    """What the hands must do at this moment; nothing that was said earlier and is over."""
    said, phase = bench.view.hands, bench.sweep.phase
    if isinstance(phase, HandLoaded | Silent | Feeding):
        return counted(phase, said, now_s)
    if isinstance(phase, Throttle):
        return _throttle(bench, said.words if said is not None else "")
    if isinstance(phase, Holding) and not bench.sweep.plan.driven:
        return _keep_there(bench, phase)
    return "", ""


def _throttle(bench: Bench, words: str) -> tuple[str, str]:
    """`THROTTLE TO 1500 (engine rpm)`: the bracket is told smaller, with how far it still is."""
    head, _, bracket = words.partition(" (")
    last = bench.sweep.intake.last.get("shaft_rpm")
    step = bench.sweep.current
    if last is None or step is None:
        return head, bracket.rstrip(")")
    off = (step.set_rpm - last.value) / (bench.sweep.plan.speed_ratio if bracket else 1.0)
    more = "more" if off > 0 else "less"
    return head, f"{bracket.rstrip(')')} {abs(off):.0f} rpm {more}".strip()


def _keep_there(bench: Bench, phase: Holding) -> tuple[str, str]:
    said = bench.view.hands
    plan = bench.sweep.plan
    typed_speed = "shaft_rpm" in plan.typed or plan.speed_source in plan.typed
    if typed_speed or (said is not None and said.detail):
        return (said.words.partition(" (")[0], said.detail) if said is not None else ("", "")
    return "HOLD IT THERE", ""


def typing_sentence(bench: Bench) -> str:
    """The top line while readings are typed."""
    step = bench.sweep.current
    at = f"At {step.set_rpm:.0f} rpm: type" if step is not None else "Type"
    return f"{at} what each meter shows; each is asked for twice."


def question_words(question: TypeReading) -> str:
    """What is asked, as in `Type the output current at 1500 rpm, once more:`."""
    kind = CHANNELS[question.channel]
    again = ", once more" if question.again else ""
    if question.channel in ("shaft_rpm", "engine_rpm"):
        return f"Type the {kind.words}{again}:"
    return f"Type the {kind.words} at {question.set_rpm:.0f} rpm{again}:"


def _typed_figure(name: str, reading: Reading | None, now_s: float) -> Figure:
    kind = CHANNELS[name]
    if reading is None or reading.value is None:
        return Figure(name, kind.words, "--", kind.unit_of_measure, "", "you type it")
    text = f"{reading.value:.{kind.decimals}f}"
    state = f"typed {_span(max(now_s - reading.t_s, 0.0))} ago"
    return Figure(name, kind.words, text, kind.unit_of_measure, "", state)


def _span(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"
