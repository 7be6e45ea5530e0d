"""How the set speed moves: in small steps along a ramp, then trimmed to the tachometer."""

from __future__ import annotations

import math

from acquire.plain_sum import plain_sum
from acquire.sweep.commands import Command, Remark, SetShaftRpm

RAMP_EVERY_S = 0.25
"""Between two set speeds [s]: steps too small to jerk a belt, few enough for a slow port."""
TRIM_WITHIN_RPM = 5.0
"""The set speed counts as held within this (ISO 8854:2012, 3.4) [rpm]."""
TRIMS_AT_MOST = 2
"""The first takes out slip and droop; the second what the first missed. More would be hunting."""
TRIM_WINDOW_S = 1.0
"""Readings of this long make the mean that is trimmed by [s]: ten of a usual tachometer."""
TRIM_AFTER_S = 1.5
"""No trim sooner after a move [s]: a drive answers within a second (common practice, no source)."""
TRIM_AT_LAST_S = 6.0
"""A speed that has not come to rest by then is trimmed as it is [s]: it may never rest."""
LARGEST_CORRECTION = 0.08
"""Of the wanted speed: a belt slips a few percent (common practice, no source); what is farther off
is a wrong pulley or a wrong tachometer, and not to be chased."""


class Ramp:
    """The set speed on its way to a wanted shaft speed, never faster than `rpm_per_s`."""

    def __init__(self, rpm_per_s: float) -> None:
        self._rpm_per_s = rpm_per_s
        self.set_rpm = 0.0
        self._target_rpm = 0.0
        self._moved_s = -math.inf

    def go_to(self, target_rpm: float) -> None:
        """Aim at `target_rpm`; `move` takes it there."""
        self._target_rpm = target_rpm

    def trim_by(self, correction_rpm: float) -> list[Command]:
        """Move the set speed by this much [rpm] at once: a small correction, not a ramp."""
        self.set_rpm = self._target_rpm = self.set_rpm + correction_rpm
        return [SetShaftRpm(self.set_rpm), Remark("trimmed", {"by_rpm": correction_rpm})]

    @property
    def there(self) -> bool:
        """True when the set speed has reached its aim."""
        return self.set_rpm == self._target_rpm

    @property
    def left_s(self) -> float:
        """So much longer the set speed is on its way [s]."""
        return abs(self._target_rpm - self.set_rpm) / self._rpm_per_s

    @property
    def due_s(self) -> float:
        """When the next move may be made [s]; infinite when there."""
        return math.inf if self.there else self._moved_s + RAMP_EVERY_S

    def move(self, now_s: float) -> float | None:
        """The next set speed [rpm] when one is due, else None."""
        if now_s < self.due_s or self.there:
            return None
        reach = self._rpm_per_s * RAMP_EVERY_S
        left = self._target_rpm - self.set_rpm
        if abs(left) <= reach:
            self.set_rpm = self._target_rpm
        else:
            self.set_rpm += math.copysign(reach, left)
        self._moved_s = now_s
        return self.set_rpm


class Trim:
    """Corrects the set speed by what the tachometer reads, at most twice a step.

    ISO 8854:2012, 3.4 asks for the set speed within 5 rpm.
    """

    def __init__(self, wanted_rpm: float, began_s: float) -> None:
        self._wanted_rpm = wanted_rpm
        self._since_s = began_s
        self._left = TRIMS_AT_MOST
        self._seen: list[tuple[float, float]] = []

    def push(self, t_s: float, shaft_rpm: float) -> float | None:
        """Add one reading; the correction [rpm] for the set speed when one is due."""
        if self._left == 0:
            return None
        self._seen = [(t, rpm) for t, rpm in self._seen if t > t_s - TRIM_WINDOW_S]
        self._seen.append((t_s, shaft_rpm))
        waited_s = t_s - self._since_s
        if waited_s < TRIM_AFTER_S or (waited_s < TRIM_AT_LAST_S and self._still_moving(t_s)):
            return None
        self._since_s = t_s
        wrong = self._wanted_rpm - _mean(self._seen)
        if abs(wrong) <= TRIM_WITHIN_RPM:
            self._left = 0
            return None
        self._left -= 1
        most = LARGEST_CORRECTION * self._wanted_rpm
        return min(max(wrong, -most), most)

    def _still_moving(self, t_s: float) -> bool:
        """True while the speed has not come to rest after the last move."""
        middle = t_s - TRIM_WINDOW_S / 2
        early = [pair for pair in self._seen if pair[0] <= middle]
        late = [pair for pair in self._seen if pair[0] > middle]
        return not early or abs(_mean(late) - _mean(early)) > TRIM_WITHIN_RPM / 2


def _mean(seen: list[tuple[float, float]]) -> float:
    return plain_sum(rpm for _t, rpm in seen) / len(seen)
