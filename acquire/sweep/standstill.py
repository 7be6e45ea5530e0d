"""Before anything turns: zero of the current sensor, load connected, then the drive may run."""

from __future__ import annotations

import math

from acquire.sweep.commands import (
    Command,
    FieldSwitch,
    HoldVolts,
    LoadSwitch,
    Refused,
    Remark,
    RunDrive,
    ZeroTaken,
)
from acquire.sweep.intake import AMPS, SHAFT, VOLTS, Intake, Value
from acquire.sweep.phases import PlainPhase
from acquire.sweep.plan import SweepPlan

ZERO_FOR_S = 2.0
"""The zero is read for at least so long [s]: whole periods of any mains hum,"""
ZERO_READINGS = 8
"""and from at least so many readings, so that their scatter says how well it is known."""
ZERO_GIVE_UP_S = 10.0
"""A sensor that has not given them by then [s] is slow or silent: the sweep goes on without."""
STANDSTILL_RPM = 60.0
"""Below this the shaft counts as standing: a tachometer may show a few rpm of noise."""
LOADING_S = 0.5
"""Load and field get so long to switch before the drive is told to run [s]."""
REST_AT_MOST, REST_AT_LEAST = 1.25, 0.65
"""A battery at rest stands at some 0.94 of the test voltage (12.7 V against 13.5 V; common
practice, no source). Beyond these shares of it the battery is that of another system."""
NO_BATTERY_VOLTS = 3.0
"""Below this nothing is connected that could tell."""

NO_TEST_VOLTS = (
    "No test voltage is known, so the load stays off: what is read is what the battery takes, not"
    " what the unit can give. Give --rated NAME, or volts in the method's table [test]."
)


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
    """Load and field are switched on while nothing turns; then the drive is told to run.

    Where the battery is that of another system nothing is switched on and nothing turns.
    """

    name = "loading"

    def __init__(self, plan: SweepPlan, intake: Intake) -> None:
        super().__init__()
        self._plan = plan
        self._volts = intake.last

    def _other_system(self) -> Refused | None:
        """Words where the voltage at rest does not go with the test voltage."""
        seen, wanted = self._volts.get(VOLTS), self._plan.test_volts
        if seen is None or wanted is None or seen.value < NO_BATTERY_VOLTS:
            return None
        if REST_AT_LEAST * wanted <= seen.value <= REST_AT_MOST * wanted:
            return None
        return Refused(
            f"The battery of this rig stands at {seen.value:.1f} V, and the unit is to be tested at"
            f" {wanted:g} V: that is another system. Nothing was switched on and nothing turned."
            " Take the rig of the unit's own voltage, or the right rated curve."
        )

    def begin(self, now_s: float) -> list[Command]:
        refused = self._other_system() if self._plan.driven else None
        if refused is not None:
            return [refused]
        out: list[Command] = []
        if self._plan.load == "holds" and self._plan.test_volts is not None:
            out += [HoldVolts(self._plan.test_volts), LoadSwitch(on=True)]
        if self._plan.has_field_switch:
            out.append(FieldSwitch(on=True))
        self.due_s = now_s + (LOADING_S if out else 0.0)
        stays_off = self._plan.load == "holds" and self._plan.test_volts is None
        return [Remark("load stays off", {}, NO_TEST_VOLTS), *out] if stays_off else out

    def pass_time(self, now_s: float) -> list[Command]:
        self.over, self.due_s = True, math.inf
        return [RunDrive()] if self._plan.driven else []
