"""The current as it would be at the speed set: freed from what a hunting speed does to it."""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from typing import TYPE_CHECKING

from acquire.settle.blocks import KEPT, Block
from acquire.settle.channel_watch import ChannelWatch
from acquire.settle.looks import HoldPlan
from acquire.settle.prediction import CAUTIOUS, FAST, Prediction

if TYPE_CHECKING:
    from acquire.settle.predict import Predictor

EMPTY = Block(number=-1, count=0, mean=0.0, sd=0.0)


class FreedCurrent:
    """Follows the current's blocks beside the speed's, and feeds the prediction."""

    def __init__(self, plan: HoldPlan, amps: ChannelWatch, speed: ChannelWatch | None) -> None:
        self._set_rpm = plan.set_rpm
        self._amps, self._speed = amps, speed
        self.slope = plan.slope_amps_per_rpm if speed is not None else None
        self.blocks: deque[Block] = deque(maxlen=KEPT)
        self._done = 0
        self._deviation = 0.0
        self._predictor = _predictor(plan, amps, speed) if plan.predict else None
        self.prediction: Prediction | None = None

    def follow(self) -> None:
        """Take over the blocks that have ended since."""
        series = self._amps.series
        while self._done < series.closed:
            behind = series.closed - self._done
            lost = behind > len(series.blocks)  # all silent for minutes: nothing to take over
            block = EMPTY if lost else series.blocks[-behind]
            self._follow_speed()
            self._done += 1
            self.blocks.append(
                replace(block, mean=block.mean - self.slope * self._deviation)
                if self.slope is not None
                else block
            )
            if self._predictor is not None:
                self._predictor.add(block, self._deviation)

    def _follow_speed(self) -> None:
        if self._speed is None:
            return
        series = self._speed.series
        behind = series.closed - self._done
        if 0 < behind <= len(series.blocks) and series.blocks[-behind].count:
            self._deviation = series.blocks[-behind].mean - self._set_rpm

    def predict(self, t_s: float) -> Prediction | None:
        """Look at what the final value will be; None where nothing is predicted."""
        if self._predictor is None:
            return None
        self.prediction = self._predictor.look(t_s, self._amps.tolerance().drift)
        if self._amps.unsteady:
            self.prediction = None
        return self.prediction

    def shift(self) -> float:
        """What to add to have the current at the speed that is reported [A]."""
        if self.slope is None or self._speed is None or not self._speed.readings:
            return 0.0
        return self.slope * (self._speed.value() - self._set_rpm)


def _predictor(plan: HoldPlan, amps: ChannelWatch, speed: ChannelWatch | None) -> Predictor:
    from acquire.settle.predict import Predictor

    return Predictor(
        FAST if plan.fast else CAUTIOUS,
        resolution=amps.plan.resolution,
        horizon_s=plan.horizon_s,
        slope_amps_per_rpm=plan.slope_amps_per_rpm,
        with_speed=speed is not None,
        lore=plan.lore,
    )
