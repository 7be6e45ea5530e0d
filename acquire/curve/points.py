"""What a curve is made of and what it gives back: points, estimates, and points of its band."""

from __future__ import annotations

from dataclasses import dataclass

from profiles.errors import BenchError

NORMAL_95 = 1.959964
"""Standard deviations to either side that hold 95 % of a normal distribution."""


class CannotFit(BenchError):
    """No curve can be laid through these points; `what_to_do` says what is missing."""


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One steady point: net amps at B+ at one shaft speed, at the test voltage.

    `u_amps` and `u_shaft_rpm` are standard uncertainties (k = 1), None where nobody knows them.
    `censored` marks a reading that something else than the unit held down (a regulator, a load
    at its end): the unit can give at least that much.
    """

    shaft_rpm: float
    amps: float
    u_amps: float | None = None
    u_shaft_rpm: float | None = None
    censored: bool = False


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its standard uncertainty (k = 1), in the unit of measure of the value."""

    value: float
    u: float

    def as_json(self) -> dict[str, float]:
        """The estimate with the keys `value` and `u`."""
        return {"value": self.value, "u": self.u}


@dataclass(frozen=True, slots=True)
class BandPoint:
    """The curve at one speed: amps, and the low and high end of its 95 % band."""

    shaft_rpm: float
    amps: float
    low: float
    high: float
    extrapolated: bool

    def as_json(self) -> dict[str, float | bool]:
        """The point with the keys of the `at` list."""
        return {
            "shaft_rpm": self.shaft_rpm,
            "amps": self.amps,
            "low": self.low,
            "high": self.high,
            "extrapolated": self.extrapolated,
        }
