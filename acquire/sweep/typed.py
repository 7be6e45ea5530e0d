"""Typed readings: each twice, some seconds apart; equal within tolerance is steady."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from acquire.settle.looks import ChannelLook
from acquire.settle.tolerance import ChannelPlan
from acquire.sweep.commands import TypeReading

APART_S = 3.0
"""Between two rounds of readings [s]: a drift that matters shows in it, and hands can bear it."""
ROUNDS_AT_MOST = 4
"""What has not agreed by then will not: the last two count, as unsteady."""


@dataclass(slots=True)
class TypedStep:
    """Collects rounds of typed readings for one step."""

    set_rpm: float
    plans: Mapping[str, ChannelPlan]
    order: Sequence[str]
    values: dict[str, list[float]] = field(default_factory=dict)
    round_began_s: float = float("-inf")
    round_number: int = 1
    asked: str | None = None

    def due_s(self) -> float:
        """When the next question may be asked [s]."""
        if self.asked is not None or self._next_channel() is None:
            return float("inf")
        return self.round_began_s + APART_S if self.round_number > 1 else float("-inf")

    def ask(self, now_s: float) -> TypeReading | None:
        """The next question, when one is due."""
        channel = self._next_channel()
        if channel is None or self.asked is not None or now_s < self.due_s():
            return None
        self.asked = channel
        return TypeReading(channel, self.set_rpm, again=self.round_number > 1)

    def push(self, channel: str, t_s: float, value: float) -> None:
        """Add one typed reading."""
        self.values.setdefault(channel, []).append(value)
        if channel == self.asked:
            self.asked = None
        if self._next_channel() is None and not self.done:
            self.round_number += 1
            self.round_began_s = t_s

    def _next_channel(self) -> str | None:
        for channel in self.order:
            if len(self.values.get(channel, ())) < self.round_number:
                return channel
        return None

    @property
    def steady(self) -> bool:
        """True when the last two of each channel agree within its tolerance."""
        return all(self._agrees(channel) for channel in self.order)

    @property
    def complete(self) -> bool:
        """True when every channel has been typed at least twice."""
        return all(len(self.values.get(channel, ())) >= 2 for channel in self.order)

    @property
    def done(self) -> bool:
        """True when steady, or when asking again would not help."""
        full = all(len(self.values.get(c, ())) >= max(self.round_number, 2) for c in self.order)
        return full and (self.steady or self.round_number >= ROUNDS_AT_MOST)

    def _agrees(self, channel: str) -> bool:
        values = self.values.get(channel, ())
        if len(values) < 2:
            return False
        return abs(values[-1] - values[-2]) <= self._tolerance(channel, values[-1])

    def _tolerance(self, channel: str, value: float) -> float:
        plan = self.plans[channel]
        return max(plan.tolerance(value), plan.resolution)

    def looks(self) -> dict[str, ChannelLook]:
        """What each typed channel gave: the mean of the last two, half their gap as doubt."""
        return {channel: self._look(channel) for channel in self.order}

    def _look(self, channel: str) -> ChannelLook:
        last, before = self.values[channel][-1], self.values[channel][-2]
        gap = last - before
        resolution = self.plans[channel].resolution
        still = self._agrees(channel)
        return ChannelLook(
            state="still" if still else "rising" if gap > 0 else "falling",
            drift=gap,
            half_width=resolution,
            tolerance=self._tolerance(channel, last),
            mean=(last + before) / 2,
            u=math.hypot(gap / math.sqrt(12), resolution / math.sqrt(12)),
            dof=math.inf,
            window_s=APART_S,
            readings=len(self.values[channel]),
            rejected=0,
            unsteady=not still,
        )
