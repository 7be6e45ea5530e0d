"""What every way of taking a step has in common: what it watches, and how it ends."""

from __future__ import annotations

from acquire.settle.hold import Hold
from acquire.settle.looks import HoldLook, HoldPlan
from acquire.sweep.commands import StepTaken
from acquire.sweep.learned import Learned
from acquire.sweep.phases import PlainPhase
from acquire.sweep.plan import Step, SweepPlan
from acquire.sweep.ramp import Ramp, Trim


def hold_plan(plan: SweepPlan, *, shaft_rpm: float, began_s: float, learned: Learned) -> HoldPlan:
    """What the settling test needs to know for one speed."""
    slope = learned.slope_near(shaft_rpm, plan.rated_points)
    return HoldPlan(
        began_s=began_s,
        set_rpm=shaft_rpm,
        channels={n: c for n, c in plan.channels.items() if n not in plan.typed},
        horizon_s=plan.horizon_s,
        give_up_s=plan.give_up_s,
        predict=plan.predict,
        fast=plan.fast,
        lore=learned.lore,
        thermal=plan.thermal,
        slope_amps_per_rpm=slope.value if slope else None,
    )


class StepPhase(PlainPhase):
    """One step: its speed is trimmed and held until the point is taken."""

    def __init__(self, step: Step, *, plan: SweepPlan, ramp: Ramp, learned: Learned) -> None:
        super().__init__()
        self.step = step
        self.look: HoldLook | None = None
        """The newest look at the channels that must hold still."""
        self._plan, self._ramp, self._learned = plan, ramp, learned
        self._began_s = 0.0
        self._trim: Trim | None = None
        self._hold: Hold | None = None

    def _begun(self, now_s: float) -> None:
        self._began_s = now_s
        self._trim = Trim(self.step.set_rpm, now_s) if self._plan.trims else None

    def _hold_plan(self, now_s: float) -> HoldPlan:
        """For a hold at the step's speed that begins now."""
        return hold_plan(
            self._plan, shaft_rpm=self.step.set_rpm, began_s=now_s, learned=self._learned
        )

    def _taken(self, look: HoldLook | None, *, settle_s: float) -> StepTaken:
        """The end of the step; what it teaches is learned. Without figures `look` is None."""
        if look is not None and not {"shaft_rpm", "amps"} <= look.channels.keys():
            look = None
        slope = self._learned.slope_near(self.step.set_rpm, self._plan.rated_points)
        told_rpm = self._ramp.set_rpm
        if look is not None:
            self._learned.see_point(set_rpm=told_rpm, look=look)
        return StepTaken(
            step=self.step.number,
            set_rpm=self.step.set_rpm,
            settle_s=settle_s,
            look=look,
            slope=slope,
            direction=self.step.direction,
            told_rpm=told_rpm if self._plan.driven else None,
        )
