"""A unit that might serve the engine: its curve, measured or rated, and its highest speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Protocol

from acquire.curve.fit import CurveFit, CurvePoint, fit_curve
from acquire.curve.points import BandPoint
from acquire.judge.rated_line import rated_at
from profiles.errors import BenchError


class OutputCurve(Protocol):
    """What the match needs of a curve; a fitted curve is one."""

    def at(self, speeds: Sequence[float]) -> list[BandPoint]:
        """Amps with their band at shaft speeds."""
        ...

    def speed_for(self, amps: float) -> float | None:
        """The lowest shaft speed [rpm] at which `amps` flow; None where they never do."""
        ...

    @property
    def warnings(self) -> tuple[str, ...]:
        """What to be wary of."""
        ...


@dataclass(frozen=True)
class RatedLine:
    """A rated curve as straight lines between its points: a promise, so without a band.

    Below the first point the current falls off along the bridge map through the rated points
    (with a single point nothing is promised there), and the band reaches down to nothing; above
    the last point the last current is kept.
    """

    points: tuple[tuple[float, float], ...]
    """(shaft rpm, amps), ascending in speed."""

    def __post_init__(self) -> None:
        if not self.points or any(after[0] <= before[0] for before, after in pairwise(self.points)):
            raise BenchError(
                "A rated curve needs points with rising speeds.", what_to_do="Mend the profile."
            )

    @property
    def warnings(self) -> tuple[str, ...]:
        """Rated amps are a promise of the maker."""
        return ("These are rated figures, not measured ones.",)

    def at(self, speeds: Sequence[float]) -> list[BandPoint]:
        """Amps on the straight lines; low and high are the amps themselves inside the points."""
        return [self._at(float(speed)) for speed in speeds]

    def speed_for(self, amps: float) -> float | None:
        """The lowest shaft speed [rpm] that gives `amps`; None above the highest rated current."""
        first_rpm, first_amps = self.points[0]
        if amps <= first_amps:
            return self._speed_below(amps, first_rpm, first_amps)
        for (low_rpm, low_amps), (high_rpm, high_amps) in pairwise(self.points):
            if low_amps < amps <= high_amps:
                return low_rpm + (high_rpm - low_rpm) * (amps - low_amps) / (high_amps - low_amps)
        return None

    def _at(self, speed: float) -> BandPoint:
        first_rpm, first_amps = self.points[0]
        last_rpm, last_amps = self.points[-1]
        if speed < first_rpm:
            return BandPoint(speed, self._below(speed), 0.0, first_amps, extrapolated=True)
        if speed >= last_rpm:
            beyond = speed > last_rpm
            return BandPoint(speed, last_amps, last_amps, last_amps, extrapolated=beyond)
        amps = rated_at(self.points, speed) or 0.0
        return BandPoint(speed, amps, amps, amps, extrapolated=False)

    @cached_property
    def _shape(self) -> CurveFit | None:
        """The bridge map through the rated points, for below the first; None for one point."""
        if len(self.points) < 2:
            return None
        return fit_curve([CurvePoint(rpm, amps) for rpm, amps in self.points])

    def _below(self, speed: float) -> float:
        first_rpm, first_amps = self.points[0]
        if self._shape is None:
            return 0.0
        here, there = self._shape.at([speed, first_rpm])
        return first_amps * min(1.0, here.amps / there.amps) if there.amps > 0 else 0.0

    def _speed_below(self, amps: float, first_rpm: float, first_amps: float) -> float | None:
        if self._shape is None or amps == first_amps:
            return first_rpm
        at_first = self._shape.at([first_rpm])[0].amps
        speed = self._shape.speed_for(amps * at_first / first_amps)
        return first_rpm if speed is None else min(first_rpm, speed)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A unit: title, curve, the shaft speed it bears (None: not stated), the volts it gives."""

    title: str
    curve: OutputCurve
    max_shaft_rpm: float | None = None
    volts: float | None = None
    """Test voltage of the curve; None where it is not known (no belt load is then said)."""
    origin: str = ""
    """What tells it from another of the same title: stage and day of a run, folder of a file."""


def told_apart(candidates: Sequence[Candidate]) -> list[Candidate]:
    """The candidates, with their origin in the title where two have the same title.

    Where that does not tell them apart either, they are numbered.
    """
    titles = _distinct([one.title for one in candidates], [one.origin for one in candidates])
    titles = _distinct(titles, [str(number) for number in range(1, len(titles) + 1)])
    return [replace(one, title=title) for one, title in zip(candidates, titles, strict=True)]


def _distinct(titles: Sequence[str], additions: Sequence[str]) -> list[str]:
    return [
        f"{title} ({addition})" if addition and titles.count(title) > 1 else title
        for title, addition in zip(titles, additions, strict=True)
    ]
