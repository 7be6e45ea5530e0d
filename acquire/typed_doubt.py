"""A typed reading that is hard to believe: 120 where 1200 rpm are asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from acquire.judge.rated_line import rated_at
from acquire.sweep.commands import TypeReading
from profiles.channels import CHANNELS

if TYPE_CHECKING:
    from acquire.live_run import LiveRun

SPEED_OFF = 0.1
VOLTS_OFF = 0.15
AMPS_OFF = 0.6
"""So far from what is expected, as a share of it, a figure is doubted."""
ONCE_MORE = "Enter once more if it is so."


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
