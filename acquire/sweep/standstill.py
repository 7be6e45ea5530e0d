"""Before anything turns: zero of the current sensor, load connected, then the drive may run.

A shaft that turns already, as after a crash or a stop a moment ago, is brought to rest first.
"""

from __future__ import annotations

import math

from acquire.sweep.commands import (
    Command,
    FieldSwitch,
    HaltDrive,
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
REST_WITHIN_S = 60.0
"""A shaft that is found turning gets so long to come to rest [s]: a drive ramps down in seconds, a
heavy one coasts for half a minute (common practice, no source)."""
READINGS_FALL_S = 4.0
"""After that rest the zero waits for the readings of the current to have fallen too [s]."""
LOADING_S = 0.5
"""Load and field get so long to switch before the drive is told to run [s]."""
REST_AT_MOST, REST_AT_LEAST = 1.25, 0.65
"""A battery at rest stands at some 0.94 of the test voltage (12.7 V against 13.5 V; common
practice, no source). Beyond these shares of it the battery is that of another system."""
NO_BATTERY_VOLTS = 3.0
"""Below this no battery is connected, or its voltage does not reach the meter."""
NO_BATTERY = (
    "The voltage reads {:.2f} V at rest, where a battery must be connected: no battery, a blown"
    " fuse in the meter's lead, or the wrong meter. What cannot be seen cannot be guarded: nothing"
    " was switched on and nothing turned. Mend it, then go on."
)

FOUND_TURNING = "The shaft turns already: the drive is told to stop, and the test waits for rest."
STILL_TURNS = (
    f"The shaft turned before the test and did not come to rest within {REST_WITHIN_S:.0f} s,"
    " though the drive was told to stop. Stop it by hand, and look at the drive and its cable."
)
NO_TEST_VOLTS = (
    "No test voltage is known, so the load stays off: what is read is what the battery takes, not"
    " what the unit can give. Give --rated NAME, or volts in the method's table [test]."
)


class Zeroing(PlainPhase):
    """Mean of the current sensor at standstill, subtracted from all that follows.

    Where the shaft is found turning the drive is told to stop, and the zero waits for rest.
    """

    name = "zeroing"

    def __init__(self, intake: Intake) -> None:
        super().__init__()
        self._intake = intake
        self._began_s = 0.0
        self._count = 0
        self._mean = 0.0
        self._squares = 0.0
        self._found_rpm: float | None = None
        """How fast the shaft turned before the test, until it is at rest."""
        self._from_s = -math.inf

    @property
    def found_turning(self) -> bool:
        """True while the shaft, found turning, is waited for to come to rest."""
        return self._found_rpm is not None

    def begin(self, now_s: float) -> list[Command]:
        self._began_s = now_s
        self.due_s = now_s + ZERO_GIVE_UP_S
        return []

    def pass_time(self, now_s: float) -> list[Command]:
        if self._found_rpm is not None:
            self.due_s = math.inf
            return [Refused(STILL_TURNS)]
        return self._without("the current sensor gave too few readings at standstill")

    def take(self, value: Value) -> list[Command]:
        if value.channel == SHAFT:
            return self._see_shaft(value)
        if value.channel != AMPS or self._found_rpm is not None or value.t_s < self._from_s:
            return []
        self._push(value.value)
        if value.t_s - self._began_s < ZERO_FOR_S or self._count < ZERO_READINGS:
            return []
        self.over, self.due_s = True, math.inf
        self._intake.zero_amps = self._mean
        spread = math.sqrt(self._squares / (self._count - 1))
        volts = self._intake.last.get(VOLTS)
        self._intake.rest_volts = None if volts is None else volts.value
        return [
            ZeroTaken(
                self._mean,
                spread / math.sqrt(self._count),
                self._count,
                volts=self._intake.rest_volts,
            )
        ]

    def _see_shaft(self, value: Value) -> list[Command]:
        turns = value.value > STANDSTILL_RPM
        if turns and self._found_rpm is None:
            self._found_rpm, self.due_s = value.value, value.t_s + REST_WITHIN_S
            return [
                HaltDrive(),
                Remark("found turning", {"shaft_rpm": value.value}, FOUND_TURNING),
            ]
        if turns or self._found_rpm is None:
            return []
        self._count, self._mean, self._squares = 0, 0.0, 0.0
        self._found_rpm = None
        self._from_s = value.t_s + READINGS_FALL_S
        self.begin(self._from_s)
        return [Remark("brought to rest", {"shaft_rpm": value.value})]

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
        if seen is None:
            return None
        if seen.value < NO_BATTERY_VOLTS:
            return Refused(NO_BATTERY.format(seen.value))
        if wanted is None:
            return None
        if REST_AT_LEAST * wanted <= seen.value <= REST_AT_MOST * wanted:
            return None
        return Refused(
            f"The battery of this rig stands at {seen.value:.1f} V, and the unit is to be tested at"
            f" {wanted:g} V: that is another system. Nothing was switched on and nothing turned."
            " Take the rig of the unit's own voltage, or the right rated curve.",
            for_good=True,
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
        off = self._plan.load_stays_off
        return [Remark("load stays off", {}, NO_TEST_VOLTS), *out] if off else out

    def pass_time(self, now_s: float) -> list[Command]:
        self.over, self.due_s = True, math.inf
        return [RunDrive()] if self._plan.driven else []
