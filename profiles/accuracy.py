"""An instrument's accuracy, typed as its data sheet prints it, and what it means as uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

from profiles.table import Fault, NotNegative, Percent, Positive, Table, Words

Distribution = Literal["rectangular", "triangular", "normal"]


class Accuracy(Table):
    """Limits of error of one channel, in the channel's own unit of measure, after scale.

    The limit is the straight sum of its parts, as data sheets mean it:
    `percent_of_reading` of the reading + `percent_of_range` of `range` + `digits` display steps of
    `resolution` + `absolute`.
    """

    percent_of_reading: Percent = 0.0
    percent_of_range: Percent = 0.0
    range: Positive | None = None
    digits: NotNegative = 0.0
    resolution: Positive | None = None
    absolute: NotNegative = 0.0
    distribution: Distribution = "rectangular"
    """`normal` = the data sheet gives an expanded uncertainty with coverage factor `k`."""
    k: Positive = 2.0
    note: Words | None = None

    def faults(self) -> Iterator[Fault]:
        """A percentage needs its range, digits need their resolution."""
        if self.percent_of_range and self.range is None:
            yield Fault(
                "percent_of_range",
                "needs the range it is a percentage of.",
                "Add `range = …` in the channel's own unit of measure.",
                ("range",),
            )
        if self.digits and self.resolution is None:
            yield Fault(
                "digits",
                "needs the size of one display step.",
                "Add `resolution = …` in the channel's own unit of measure.",
                ("resolution",),
            )

    def limit(self, value: float) -> float:
        """Largest error the data sheet allows at this reading (own unit of measure)."""
        return math.fsum(part for _, part in self._limits(value))

    def u(self, value: float) -> float:
        """Standard uncertainty at this reading (own unit of measure, k = 1).

        The limit divided by √3 unless a distribution is stated (JCGM 100:2008, 4.3.7, 4.3.9;
        `normal`: divided by k, 4.3.3).
        """
        return self.limit(value) / self.divisor

    def parts(self, value: float) -> list[tuple[str, float]]:
        """Give (name, standard uncertainty in the channel's unit of measure) of each part not zero.

        The parts of a data-sheet limit add straight, not in quadrature: their sum is `u(value)`.
        """
        return [(name, part / self.divisor) for name, part in self._limits(value) if part]

    @property
    def divisor(self) -> float:
        """What turns the limit into a standard uncertainty: a number, as √3 for a rectangle."""
        return {
            "rectangular": math.sqrt(3.0),
            "triangular": math.sqrt(6.0),
            "normal": self.k,
        }[self.distribution]

    def _limits(self, value: float) -> list[tuple[str, float]]:
        return [
            ("percent of reading", abs(value) * self.percent_of_reading / 100.0),
            ("percent of range", (self.range or 0.0) * self.percent_of_range / 100.0),
            ("display digits", self.digits * (self.resolution or 0.0)),
            ("fixed part", self.absolute),
        ]
