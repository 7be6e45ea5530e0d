"""All that is known of one run, in the form the rules ask for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from acquire.findings.seen import Seen, StepSeen
from acquire.judge.checks import CheckResult
from acquire.judge.steady_point import SteadyPoint
from profiles.alternator import RatedCurve
from profiles.drive import LoadHolds
from profiles.rig import Rig

if TYPE_CHECKING:
    from acquire.curve.fit import CurveFit
    from acquire.findings.expected import Expected

VOLTS_PER_SYSTEM = 13.5
"""Test voltage of a 12 V system (ISO 8854:2012)."""
NO_OUTPUT_SHARE = 0.03
"""Of the rated top current; remanence alone leaves less of it (our choice, no source)."""
NO_OUTPUT_AMPS = 1.5
"""And never less than this [A]: the zero of a clamp may be off by an ampere."""


@dataclass(frozen=True)
class Case:
    """A run as the rules see it."""

    points: Sequence[SteadyPoint]
    rated: RatedCurve | None = None
    fit: CurveFit | None = None
    seen: Seen = field(default_factory=Seen)
    rig: Rig | None = None
    state: Literal["warm", "cold"] | None = None
    test_volts: float | None = None
    volts_within: float = 0.1
    speed_source: str = "shaft_rpm"
    checks: Sequence[CheckResult] = ()
    outcome: str = ""

    @cached_property
    def usable(self) -> list[SteadyPoint]:
        """Points with a speed and a current, by rising speed."""
        points = [p for p in self.points if p.usable and p.shaft_rpm]
        return sorted(points, key=lambda p: p.shaft_rpm or 0.0)

    @cached_property
    def scale(self) -> float:
        """1 for a 12 V system, 2 for 24 V."""
        if self.rated is not None:
            return self.rated.system_volts / 12.0
        return max(1.0, round((self.test_volts or VOLTS_PER_SYSTEM) / VOLTS_PER_SYSTEM))

    @cached_property
    def expected(self) -> Expected | None:
        """What a sound unit of this kind gives; None without a rated curve."""
        from acquire.findings.expected import expected_of

        return expected_of(self.rated, run_state=self.state)

    @cached_property
    def top_amps(self) -> float:
        """About what the unit should give at the top [A]."""
        if self.rated is not None and self.rated.points:
            return self.rated.points[-1][1]
        return max((p.amps or 0.0 for p in self.usable), default=0.0)

    @cached_property
    def gives_nothing(self) -> bool:
        """True when there is no output to speak of at any speed."""
        least = max(NO_OUTPUT_AMPS, NO_OUTPUT_SHARE * self.top_amps)
        return bool(self.usable) and all((p.amps or 0.0) < least for p in self.usable)

    @property
    def load_holds(self) -> bool:
        """True where the load holds the test voltage by itself."""
        return self.rig is not None and isinstance(self.rig.load, LoadHolds)

    def sound_amps(self, point: SteadyPoint) -> float:
        """What a sound unit would give at this speed [A]; the best of this run where unknown."""
        import numpy as np

        if self.expected is None:
            return self.top_amps
        return float(self.expected.amps(np.array([point.shaft_rpm or 0.0]))[0])

    def step(self, point: SteadyPoint) -> StepSeen | None:
        """What all channels gave at this point's step."""
        return self.seen.steps.get(point.step)

    def in_table(self, point: SteadyPoint) -> tuple[float, float]:
        """Speed [rpm] and current [A] of a point as the verdict's table has them.

        A driven shaft's current is moved to the set speed; one held by hand stays as measured.
        """
        driven = self.rig is not None and self.rig.drive is not None
        if driven and point.amps_at_set_rpm is not None:
            return point.set_rpm, point.amps_at_set_rpm
        return point.shaft_rpm or 0.0, point.amps or 0.0

    def mean(self, point: SteadyPoint, channel: str) -> float | None:
        """Mean of a channel at this point's step, in its unit of measure; None where not read."""
        step = self.step(point)
        return None if step is None else step.mean(channel)

    def reads(self, channel: str) -> bool:
        """True when some step has this channel."""
        return any(self.mean(p, channel) is not None for p in self.usable)

    def volts_at(self, share: float = 1.0) -> float:
        """A voltage stated for a 12 V system, for this system [V]."""
        return share * self.scale


def rpm_words(point: SteadyPoint) -> str:
    """As in `1500 rpm`."""
    return f"{point.shaft_rpm or 0.0:.0f} rpm"
