"""A reading that the operator types: what stands in the line, and whether it can be so."""

from __future__ import annotations

from acquire.bench import Bench
from acquire.judge.rated_line import rated_at
from acquire.live_run import LiveRun
from acquire.sweep.commands import TypeReading
from acquire.typed_number import typed_number
from profiles.channels import CHANNELS
from profiles.errors import BenchError

LONGEST = 9
SPEED_OFF = 0.1
VOLTS_OFF = 0.15
AMPS_OFF = 0.6


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
            self.complaint, self._doubted = f"{doubt} Enter once more if it is so.", value
            return
        try:
            run.wiring.type_reading(question.channel, value)
        except BenchError as error:
            self.complaint = str(error)
            return
        self.question, self.text, self.complaint = None, "", ""
        if bench.view.question is question:
            bench.view.question = None


def far_off(question: TypeReading, value: float, run: LiveRun) -> str:
    """Why a typed figure is hard to believe; empty when it is not."""
    wanted, share = _expected(question, run)
    if wanted is None or abs(value - wanted) <= share * abs(wanted):
        return ""
    kind = CHANNELS[question.channel]
    unit = kind.unit_of_measure
    return f"{value:g} {unit} is far from the {wanted:g} {unit} to be expected here."


def _expected(question: TypeReading, run: LiveRun) -> tuple[float | None, float]:
    plan = run.plan
    match question.channel:
        case "shaft_rpm" | "engine_rpm" | "w_hz" | "drive_rpm":
            return question.set_rpm / plan.speed_ratio, SPEED_OFF
        case "volts":
            return plan.test_volts, VOLTS_OFF
        case "amps":
            curve = run.order.rated_curve
            rated = rated_at(curve.points, question.set_rpm) if curve is not None else None
            return rated, AMPS_OFF
        case _:
            return None, 0.0
