"""Pulley arithmetic: from engine speed to shaft speed, with the slip of the belt."""

from __future__ import annotations

import math
from dataclasses import dataclass

from profiles.errors import BenchError

SLIP_PERCENT = 1.0
"""Slip taken where none is said; V-belts slip 1 to 2 % at design load (from memory, no source)."""
A_SECTION_MM = 6.35
"""Outside less datum diameter of an A-section V-belt pulley (Design manual for power transmission
belts: 0.250 in)."""


@dataclass(frozen=True, slots=True)
class BeltDrive:
    """What turns the shaft: the ratio engine pulley / alternator pulley, and the slip in %."""

    ratio: float
    slip_percent: float = SLIP_PERCENT
    engine_pulley_mm: float | None = None
    alternator_pulley_mm: float | None = None

    def __post_init__(self) -> None:
        if not 0 < self.ratio < math.inf:
            raise BenchError("The pulley ratio must be above zero.", what_to_do="Check --ratio.")
        if not 0 <= self.slip_percent < 50:
            raise BenchError(
                f"A slip of {self.slip_percent:g} % is no drive.", what_to_do="Check --slip."
            )

    @classmethod
    def from_pulleys(
        cls, *, engine_mm: float, alternator_mm: float, slip_percent: float = SLIP_PERCENT
    ) -> BeltDrive:
        """From the pitch diameters of the two pulleys, mm."""
        if not (0 < engine_mm < math.inf and 0 < alternator_mm < math.inf):
            raise BenchError(
                "Both pulley diameters must be above zero.",
                what_to_do="Check --engine-pulley and --alternator-pulley.",
            )
        return cls(engine_mm / alternator_mm, slip_percent, engine_mm, alternator_mm)

    def shaft_rpm(self, engine_rpm: float) -> float:
        """Shaft speed with slip; driven / driver = ratio (100 - slip) / 100."""
        return engine_rpm * self.ratio * self._grip

    def ratio_for(self, *, shaft_rpm: float, engine_rpm: float) -> float:
        """The ratio that turns the shaft at `shaft_rpm` when the engine runs at `engine_rpm`."""
        return shaft_rpm / (engine_rpm * self._grip)

    @property
    def _grip(self) -> float:
        return (100 - self.slip_percent) / 100

    def diameter_warning(self) -> str:
        """What it means if the diameters are outside diameters; empty for a ratio as such."""
        if self.engine_pulley_mm is None or self.alternator_pulley_mm is None:
            return ""
        true_ratio = ratio_from_outside(self.engine_pulley_mm, self.alternator_pulley_mm)
        if true_ratio is None:
            return ""
        return (
            "The diameters must be pitch diameters. If they were measured over the outside of "
            f"A-section pulleys, the true ratio is {true_ratio:.2f}, not {self.ratio:.2f} "
            f"({100 * (true_ratio / self.ratio - 1):+.1f} %)."
        )


def ratio_from_outside(engine_mm: float, alternator_mm: float) -> float | None:
    """The ratio of pitch diameters behind two outside diameters of A-section pulleys, mm."""
    if min(engine_mm, alternator_mm) <= 2 * A_SECTION_MM:
        return None
    return (engine_mm - A_SECTION_MM) / (alternator_mm - A_SECTION_MM)
