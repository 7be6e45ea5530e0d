"""Before anything turns: zero of the current sensor, load connected, then the drive may run."""

from __future__ import annotations

import math

from acquire.sweep.commands import (
    Command,
    FieldSwitch,
    HoldVolts,
    LoadSwitch,
    Remark,
    RunDrive,
    ZeroTaken,
)
from acquire.sweep.intake import AMPS, SHAFT, VOLTS, Intake, Value
from acquire.sweep.phases import PlainPhase
from acquire.sweep.plan import SweepPlan

ZERO_FOR_S = 2.0
ZERO_READINGS = 8
ZERO_GIVE_UP_S = 10.0
STANDSTILL_RPM = 60.0
LOADING_S = 0.5


class Zeroing(PlainPhase):
    """Mean of the current sensor at standstill, subtracted from all that follows."""

    name = "zeroing"

    def __init__(self, intake: Intake) -> None:
        super().__init__()
        self._intake = intake
        self._began_s = 0.0
        self._count = 0
        self._mean = 0.0
        self._squares = 0.0

    def begin(self, now_s: float) -> list[Command]:
        self._began_s = now_s
        self.due_s = now_s + ZERO_GIVE_UP_S
        return []

    def pass_time(self, now_s: float) -> list[Command]:
        return self._without("the current sensor gave too few readings at standstill")

    def take(self, value: Value) -> list[Command]:
        if value.channel == SHAFT and value.value > STANDSTILL_RPM:
            return self._without(f"the shaft turns already ({value.value:.0f} rpm)")
        if value.channel != AMPS:
            return []
        self._push(value.value)
        if value.t_s - self._began_s < ZERO_FOR_S or self._count < ZERO_READINGS:
            return []
        self.over, self.due_s = True, math.inf
        self._intake.zero_amps = self._mean
        spread = math.sqrt(self._squares / (self._count - 1))
        volts = self._intake.last.get(VOLTS)
        return [
            ZeroTaken(
                self._mean,
                spread / math.sqrt(self._count),
                self._count,
                volts=None if volts is None else volts.value,
            )
        ]

    def _push(self, amps: float) -> None:
        """Welford's update of mean and sum of squares."""
        self._count += 1
        step = amps - self._mean
        self._mean += step / self._count
        self._squares += step * (amps - self._mean)

    def _without(self, why: str) -> list[Command]:
        self.over, self.due_s = True, math.inf
        return [Remark("zero not taken", {"why": why})]


class Loading(PlainPhase):
    """Load and field are switched on while nothing turns; then the drive is told to run."""

    name = "loading"

    def __init__(self, plan: SweepPlan) -> None:
        super().__init__()
        self._plan = plan

    def begin(self, now_s: float) -> list[Command]:
        out: list[Command] = []
        if self._plan.load == "holds" and self._plan.test_volts is not None:
            out += [HoldVolts(self._plan.test_volts), LoadSwitch(on=True)]
        if self._plan.has_field_switch:
            out.append(FieldSwitch(on=True))
        self.due_s = now_s + (LOADING_S if out else 0.0)
        return out

    def pass_time(self, now_s: float) -> list[Command]:
        self.over, self.due_s = True, math.inf
        return [RunDrive()] if self._plan.driven else []
