"""A current that is no measurement: the same digits at every speed, or the wrong way round.

A meter on HOLD, or one that repeats its last answer, shows a figure that looks perfectly steady.
Where an electronic load holds the voltage the current must follow the unit, so that the same
digits at 1500 and at 3000 rpm can only be the meter's. Elsewhere a regulator may hold the current
of a load that hands or a bank have set, and the same digits are honest.

A clamp put on backwards shows the output with a minus sign. So does current that flows into the
unit through a shorted diode: whichever it is, it says nothing of what the unit gives, and a unit
that takes current must not be turned on.
"""

from __future__ import annotations

from acquire.sweep.commands import CannotSee, Command
from acquire.sweep.intake import AMPS, SHAFT, VOLTS, Intake, Value
from acquire.sweep.phases import PlainPhase
from acquire.sweep.plan import SweepPlan

SPEED_RATIO = 1.5
"""Between speeds so far apart every unit's current changes by more than a coarse display's step:
by a tenth at the flat top of a curve (a choice)."""
BACKWARDS_AMPS = -3.0
"""So much into the unit is no error of the zero, which was read just before (a choice)."""
LEAST_AMPS = 0.5
"""Below this a dead unit and a dead meter look the same, but for the voltage (a choice)."""


class DoubtfulCurrent:
    """Watches whether what is read as current can be the unit's output."""

    def __init__(self, plan: SweepPlan, intake: Intake) -> None:
        self._plan = plan
        self._last = intake.last
        self._watched = plan.load == "holds" and AMPS not in plan.typed
        self._amps: float | None = None
        self._speeds: list[float] = []
        """Where steps ended since the digits changed last [rpm]."""

    def take(self, value: Value) -> None:
        """Look at one value."""
        if value.channel == AMPS and value.value != self._amps:
            self._amps = value.value
            self._speeds.clear()

    def after_a_step(self) -> str:
        """Words where the meter cannot be believed; empty where it can."""
        shaft = self._last.get(SHAFT)
        if self._amps is None or shaft is None:
            return ""
        if self._amps < BACKWARDS_AMPS:
            return _backwards(self._amps, shaft.value)
        if not self._watched:
            return ""
        self._speeds.append(shaft.value)
        slowest, fastest = min(self._speeds), max(self._speeds)
        if fastest < SPEED_RATIO * slowest or not self._must_flow(self._amps):
            return ""
        return (
            f"The current reads {self._amps:.2f} A to the last digit at {slowest:.0f} and at"
            f" {fastest:.0f} rpm, and did not change between: the meter is on HOLD or frozen, and"
            " says nothing of this unit. Mend that, and test anew; this run is not to be gone on"
            " with."
        )

    def _must_flow(self, amps: float) -> bool:
        """A load that holds the voltage up to where it is has a current: no dead unit does that."""
        volts, test_volts = self._last.get(VOLTS), self._plan.test_volts
        held = (
            volts is not None
            and test_volts is not None
            and volts.value >= test_volts - self._plan.volts_within
        )
        return abs(amps) > LEAST_AMPS or held


def _backwards(amps: float, shaft_rpm: float) -> str:
    return (
        f"The current reads {amps:.1f} A at {shaft_rpm:.0f} rpm: the clamp or the shunt's leads are"
        " the wrong way round, or current flows into the unit. Stand still, turn the clamp, and"
        " test anew; this run is not to be gone on with."
    )


class Unseen(PlainPhase):
    """What the unit gives cannot be seen: the rig is to be stopped."""

    name = "current not seen"

    def __init__(self, words: str) -> None:
        super().__init__()
        self._words = words

    def begin(self, now_s: float) -> list[Command]:
        return [CannotSee(self._words)]
