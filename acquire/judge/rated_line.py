"""The rated curve between its points: a straight line by convention, and how lenient that is."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

Point = tuple[float, float]


def rated_at(points: Sequence[Point], shaft_rpm: float) -> float | None:
    """Rated current on the straight line between the neighbouring points [A].

    None outside the first and last rated speed: nothing is promised there.
    """
    if not points or not points[0][0] <= shaft_rpm <= points[-1][0]:
        return None
    for (low, first), (high, second) in pairwise(points):
        if shaft_rpm <= high:
            return first + (second - first) * (shaft_rpm - low) / (high - low)
    return points[-1][1]


def rated_slope_at(points: Sequence[Point], shaft_rpm: float) -> float:
    """Slope of that line [A per rpm]; 0 where there is none."""
    for (low, first), (high, second) in pairwise(points):
        if low <= shaft_rpm <= high:
            return (second - first) / (high - low)
    return 0.0


def leniency_amps(points: Sequence[Point], speeds: Sequence[float]) -> float | None:
    """How far the straight line may lie below the bent curve at these speeds, at most [A].

    The error of linear interpolation at a place between two points `h` apart is at most
    (place - low)(high - place)/2 times the largest bend |I''| (textbook bound; h²/8 in the
    middle). The bend is taken from the divided differences of the rated points next to the place.
    None where fewer than three points say nothing of the bend.
    """
    if len(points) < 3:
        return None
    bends = [abs(_bend(*three)) for three in zip(points, points[1:], points[2:], strict=False)]
    worst = 0.0
    for k, ((low, _), (high, _)) in enumerate(pairwise(points)):
        bend = max(bends[max(k - 1, 0) : k + 1])
        inside = (speed for speed in speeds if low < speed < high)
        worst = max([worst, *((s - low) * (high - s) / 2.0 * bend for s in inside)])
    return worst


def _bend(first: Point, second: Point, third: Point) -> float:
    """Second derivative of the parabola through three points."""
    before = (second[1] - first[1]) / (second[0] - first[0])
    after = (third[1] - second[1]) / (third[0] - second[0])
    return 2.0 * (after - before) / (third[0] - first[0])
