"""From rated curve, rule, points and fit to the picture of the output curve."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from acquire.judge.acceptance import limit_at
from acquire.judge.budget import HALF_WIDTH_K
from acquire.judge.rated_line import rated_at
from acquire.screens.curve_chart import CurvePicture, Mark
from acquire.screens.raster import Line, Wash, tick_step
from acquire.screens.rows import Ink
from profiles.alternator import RatedCurve
from profiles.rule import Accept

if TYPE_CHECKING:
    from acquire.curve.fit import CurveFit

SAMPLES = 120
HEADROOM = 1.12
OFF = 0.02
"""So far off its speed a point may lie, as a share of it."""
LEFT_OF_LOWEST = 0.5
"""The picture begins at this share of the lowest speed: cut-in lies there."""


@dataclass(frozen=True, slots=True)
class Measured:
    """A measured point of this run or an earlier one."""

    shaft_rpm: float
    amps: float
    u_amps: float | None = None
    settled: bool = True


def picture_of(
    *,
    speeds: Sequence[float],
    rated: RatedCurve | None,
    accept: Accept | None,
    points: Sequence[Measured] = (),
    before: Sequence[Measured] = (),
    now: tuple[float, float] | None = None,
    fit: CurveFit | None = None,
) -> CurvePicture:
    """The picture of a run so far; `fit` is a `CurveFit`, for the finished curve."""
    x_limits = _x_limits(speeds, rated, points)
    lines, legend = _ruled_lines(rated, accept)
    washes: tuple[Wash, ...] = ()
    if fit is not None:
        wash, fitted = _fitted(fit, x_limits)
        washes, lines = (wash,), [*lines, fitted]
        legend += [("fitted fitted", "measured"), ("band 95 % band", "band")]
    marks = [_mark(p, "before", "+") for p in before]
    marks += [_mark(p, "measured", "o" if p.settled else "?") for p in points]
    measured: list[tuple[str, Ink]] = [("o measured", "measured")]
    if not all(p.settled for p in points):
        measured.append(("? not settled", "measured"))
    legend = [*measured, *legend]
    if before:
        legend.append(("before before", "before"))
        lines = [_joined(before), *lines]
    if now is not None:
        legend.append(("now now", "hands"))
    return CurvePicture(
        x_limits=x_limits,
        y_limits=_y_limits(rated, [*points, *before], now),
        lines=tuple(lines),
        washes=washes,
        marks=tuple(marks),
        now=now,
        legend=tuple(legend),
    )


def _joined(before: Sequence[Measured]) -> Line:
    """The earlier run as a curve of its own."""
    points = sorted(before, key=lambda point: point.shaft_rpm)
    rpm, amps = [p.shaft_rpm for p in points], [p.amps for p in points]
    return Line(rpm, amps, "before", "dots", plain="+")


def _mark(point: Measured, ink: Ink, sign: str) -> Mark:
    return Mark(point.shaft_rpm, point.amps, HALF_WIDTH_K * (point.u_amps or 0.0), ink, sign)


def _x_limits(
    speeds: Sequence[float], rated: RatedCurve | None, points: Iterable[Measured]
) -> tuple[float, float]:
    """From the speeds planned and rated; a point a little off its speed moves no axis."""
    known = [*speeds, *(rpm for rpm, _ in (rated.points if rated else ()))]
    low, high = min(known, default=math.inf), max(known, default=0.0)
    known += [p.shaft_rpm for p in points if not low * (1 - OFF) <= p.shaft_rpm <= high * (1 + OFF)]
    top = max(known, default=6000.0)
    step = tick_step(max(top, 100.0), 12)
    low = math.floor(LEFT_OF_LOWEST * min(known, default=0.0) / step) * step
    return low, max(math.ceil(top / step - 1e-9) * step, 1.02 * top)


def _y_limits(
    rated: RatedCurve | None, points: Iterable[Measured], now: tuple[float, float] | None
) -> tuple[float, float]:
    amps = [a for _, a in (rated.points if rated else ())]
    amps += [p.amps + HALF_WIDTH_K * (p.u_amps or 0.0) for p in points]
    if rated is None and now is not None:
        amps.append(now[1])
    top = HEADROOM * max([*amps, 10.0])
    step = tick_step(top, 10)
    return 0.0, math.ceil(top / step) * step


def _ruled_lines(
    rated: RatedCurve | None, accept: Accept | None
) -> tuple[list[Line], list[tuple[str, Ink]]]:
    """The rated curve as a whole line, what is allowed in dashes."""
    if rated is None or len(rated.points) < 2:
        return [], []
    low, high = rated.points[0][0], rated.points[-1][0]
    speeds = [low + (high - low) * n / SAMPLES for n in range(SAMPLES + 1)]
    lines: list[Line] = []
    legend: list[tuple[str, Ink]] = []
    if accept is not None:
        allowed = _sampled(speeds, lambda rpm: _allowed(rated, accept, rpm))
        lines.append(Line(speeds, allowed, "allowed", "dashes", plain="."))
        legend.append(("allowed allowed", "allowed"))
    lines.append(Line(speeds, _sampled(speeds, lambda rpm: rated_at(rated.points, rpm)), "rated"))
    legend.insert(0, ("rated rated", "rated"))
    return lines, legend


def _allowed(rated: RatedCurve, accept: Accept, rpm: float) -> float | None:
    amps = rated_at(rated.points, rpm)
    return None if amps is None else limit_at(amps, accept)


def _sampled(speeds: Sequence[float], at: Callable[[float], float | None]) -> list[float]:
    ys = [at(rpm) for rpm in speeds]
    return [math.nan if y is None else y for y in ys]


def _fitted(fit: CurveFit, x_limits: tuple[float, float]) -> tuple[Wash, Line]:
    """The band of the fit as a light wash, and the fitted curve through it."""
    low, high = x_limits
    speeds = [low + (high - low) * n / (2 * SAMPLES) for n in range(1, 2 * SAMPLES + 1)]
    band = fit.at(speeds)
    known = [not math.isnan(p.amps) and p.amps > 0 for p in band]
    lows = [max(p.low, 0.0) if ok else math.nan for p, ok in zip(band, known, strict=True)]
    highs = [p.high if ok else math.nan for p, ok in zip(band, known, strict=True)]
    middle = [p.amps if ok else math.nan for p, ok in zip(band, known, strict=True)]
    return Wash(speeds, lows, highs), Line(speeds, middle, "measured", "dash dot", "*")
