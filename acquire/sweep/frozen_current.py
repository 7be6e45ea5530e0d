"""A current that does not change by a digit while the speed does is no measurement.

A meter on HOLD, or one that repeats its last answer, shows a figure that looks perfectly steady.
Where an electronic load holds the voltage the current must follow the unit, so that the same
digits at 1500 and at 3000 rpm can only be the meter's. Elsewhere a regulator may hold the current
of a load that hands or a bank have set, and the same digits are honest.
"""

from __future__ import annotations

from acquire.sweep.commands import CannotSee, Command
from acquire.sweep.intake import AMPS, SHAFT, VOLTS, Intake, Value
from acquire.sweep.phases import PlainPhase
from acquire.sweep.plan import SweepPlan

SPEED_RATIO = 1.5
"""Between speeds so far apart every unit's current changes by more than a coarse display's step:
by a tenth at the flat top of a curve (a choice)."""
LEAST_AMPS = 0.5
"""Below this a dead unit and a dead meter look the same, but for the voltage (a choice)."""


class FrozenCurrent:
    """Watches whether the digits of the current have changed since an earlier speed."""

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
        if not self._watched or shaft is None or self._amps is None:
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


class Unseen(PlainPhase):
    """What the unit gives cannot be seen: the rig is to be stopped."""

    name = "current not seen"

    def __init__(self, words: str) -> None:
        super().__init__()
        self._words = words

    def begin(self, now_s: float) -> list[Command]:
        return [CannotSee(self._words)]
