"""A check at its own speed, after the sweep: the shaft turns there while the operator reads."""

from __future__ import annotations

import math
from dataclasses import dataclass

from acquire.sweep.commands import Act, AskCheck, CheckAnswered, Command, HoldVolts, Remark
from acquire.sweep.phases import PlainPhase
from acquire.sweep.plan import SweepPlan

ANSWER_WITHIN_S = 180.0
"""The shaft does not turn longer than this for one answer."""
IDLE_LOAD_SHARE = 1.1
"""A load that holds a voltage this far above the test voltage draws nothing: the unit regulates
below it, so the load grows light without a circuit being opened under current."""

BELOW_LIMIT = 0.98
"""And never nearer to the rig's own limit than this."""


@dataclass(frozen=True, slots=True)
class SpeedCheck:
    """A check that belongs to a speed [rpm at the shaft] and a load in the operator's words."""

    name: str
    set_rpm: float
    load: str | None = None

    @property
    def light(self) -> bool:
        """True when the load asked for is a light one."""
        return self.load is not None and self.load.lower().startswith(("light", "no load", "none"))


class Checking(PlainPhase):
    """Ask, and wait for the answer, at most so long."""

    name = "checking"

    def __init__(self, check: SpeedCheck, plan: SweepPlan) -> None:
        super().__init__()
        self.check = check
        self._plan = plan

    def begin(self, now_s: float) -> list[Command]:
        self.due_s = now_s + ANSWER_WITHIN_S
        return [*self._load(), AskCheck(self.check.name, self.check.set_rpm)]

    def _load(self) -> list[Command]:
        if self._plan.load != "holds" or self._plan.test_volts is None:
            return []
        volts = self._plan.test_volts
        if self.check.light:
            highest = math.inf if self._plan.volts_max is None else self._plan.volts_max
            volts = max(volts, min(IDLE_LOAD_SHARE * volts, BELOW_LIMIT * highest))
        return [HoldVolts(volts)]

    def pass_time(self, now_s: float) -> list[Command]:
        self.over, self.due_s = True, math.inf
        why = f"no answer within {ANSWER_WITHIN_S:.0f} s"
        return [Remark("check not done", {"check": self.check.name, "why": why})]

    def act(self, now_s: float, act: Act) -> list[Command]:
        if isinstance(act, CheckAnswered) and act.check == self.check.name:
            self.over, self.due_s = True, math.inf
        return []
