"""What the chart of a run shows: points, bars, band, rated and limit, as numbers and words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acquire.judge.acceptance import limit_at
from acquire.judge.rated_line import rated_at
from acquire.judging import fit_of, points_in
from acquire.report.language import Language
from acquire.report.material import Material, SpeedRow, number_of

BAND_SHOWN = 1.5
"""A band that rises further than this many times all else is cut, or all else would be small."""
ENOUGH_FOR_A_PICTURE = 40
"""Fewer recorded speeds than this make no smooth curve."""
Line = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """A measured point: where, how sure, and what came of it."""

    shaft_rpm: float
    amps: float
    half_amps: float | None
    outcome: str = ""


@dataclass(frozen=True, slots=True)
class BandAt:
    """The fitted curve and its 95 % band at one speed."""

    shaft_rpm: float
    amps: float
    low: float
    high: float
    extrapolated: bool


@dataclass(frozen=True, slots=True)
class ChartWords:
    """All words of a chart, in the paper's language."""

    alt: str
    x: str
    y: str
    measured: str
    """Of a point that is allowed, or not judged."""
    before: str
    fit: str
    rated: str
    limit: str
    decimal: str = "."
    fail: str = ""
    """Of a point below what is allowed."""
    undecided: str = ""


@dataclass(frozen=True, slots=True)
class Chart:
    """One description of the picture; `chart_svg` draws it for every kind of paper."""

    points: tuple[ChartPoint, ...]
    words: ChartWords
    band: tuple[BandAt, ...] = ()
    rated: Line = ()
    """Rated points by rising speed."""
    limit: Line = ()
    """What is allowed at these speeds."""
    limit_between: bool = False
    """True where the limit holds on the straight line between, too; drawn as such."""
    before: tuple[ChartPoint, ...] = ()
    before_line: Line = ()

    @property
    def top_rpm(self) -> float:
        """Highest speed shown."""
        return max((rpm for rpm, _ in self._all()), default=6000.0)

    @property
    def top_amps(self) -> float:
        """Highest current shown: of points with their bars, lines, and the band within reason."""
        most = max((amps for _, amps in self._all()), default=100.0)
        band = max((one.high for one in self.band), default=0.0)
        return max(most, min(band, BAND_SHOWN * most))

    def _all(self) -> list[tuple[float, float]]:
        points = [*self.points, *self.before]
        bars = [(p.shaft_rpm, p.amps + (p.half_amps or 0.0)) for p in points]
        return [*bars, *self.rated, *self.limit]


def chart_of(material: Material, language: Language, *, before: Material | None = None) -> Chart:
    """The chart of a run, over that of an earlier one where there is one."""
    points = _points(material.rows)
    rated, accept = material.rated, material.accept
    rated_points: Line = rated.points if rated is not None else ()
    limit = tuple((rpm, limit_at(amps, accept)) for rpm, amps in rated_points) if accept else ()
    between = material.verdict.get("at") == "measured speeds"
    if between and accept is not None and len(rated_points) > 1:
        limit = _limit_line(rated_points, [p.shaft_rpm for p in points], limit)
    return Chart(
        points=points,
        words=_words(language, material, both=before is not None, between=between),
        band=fitted_band(material),
        rated=rated_points,
        limit=limit,
        limit_between=between,
        before=_points(before.rows) if before is not None else (),
        before_line=tuple((b.shaft_rpm, b.amps) for b in fitted_band(before)) if before else (),
    )


def _points(rows: Sequence[SpeedRow]) -> tuple[ChartPoint, ...]:
    return tuple(
        ChartPoint(row.shaft_rpm, row.amps, row.half_amps, row.outcome)
        for row in rows
        if row.amps is not None
    )


def _limit_line(rated: Line, speeds: Sequence[float], limit: Line) -> Line:
    """The limit at the rated points and at the measured speeds between them."""
    share = dict(limit)
    both = sorted({*share, *(s for s in speeds if rated[0][0] < s < rated[-1][0])})
    line = []
    for rpm in both:
        here = share.get(rpm)
        line.append((rpm, here if here is not None else (rated_at(limit, rpm) or 0.0)))
    return tuple(line)


def _words(language: Language, material: Material, *, both: bool, between: bool) -> ChartWords:
    derived = material.rated is not None and material.rated.derived
    whose = "after" if both else "measured"
    return ChartWords(
        alt=chart_alt(language, material.rows),
        x=language.text("chart.x"),
        y=language.text("chart.y"),
        measured=language.text(f"chart.{whose}"),
        fail=language.text(f"chart.{whose}_fail"),
        undecided=language.text(f"chart.{whose}_undecided"),
        before=language.text("chart.before"),
        fit=language.text("chart.fit"),
        rated=language.text("chart.rated_derived" if derived else "chart.rated"),
        limit=language.text("chart.limit_between" if between else "chart.limit"),
        decimal=language.texts["number.decimal"],
    )


def chart_alt(language: Language, rows: Sequence[SpeedRow]) -> str:
    """What the chart shows, in words."""
    shown = [row for row in rows if row.amps is not None]
    if not shown:
        return language.text("chart.alt_nothing")
    said = "; ".join(_alt_point(language, row) for row in shown)
    return language.text(
        "chart.alt",
        count=str(len(shown)),
        low=language.number(shown[0].shaft_rpm),
        high=language.number(shown[-1].shaft_rpm),
        points=f"{said}.",
    )


def _alt_point(language: Language, row: SpeedRow) -> str:
    amps = language.with_doubt(row.amps, row.half_amps).text
    rpm = language.number(row.shaft_rpm)
    if row.limit_amps is None:
        return language.text("chart.alt_point", rpm=rpm, amps=amps)
    limit = language.number(row.limit_amps, 1)
    return language.text("chart.alt_point_limit", rpm=rpm, amps=amps, limit=limit)


# ---- the fitted curve ------------------------------------------------------------------------


def fitted_band(material: Material) -> tuple[BandAt, ...]:
    """The fitted curve from its foot to a little beyond the highest measured speed.

    As the record has it where it holds enough speeds for a picture; else fitted again to the
    recorded points, which gives the same curve.
    """
    fit = material.verdict.get("fit")
    if not isinstance(fit, dict):
        return ()
    given = fit.get("curve") or fit.get("at") or ()
    kept = [_band_at(one) for one in given if isinstance(one, dict)]
    band = tuple(one for one in kept if one is not None)
    return band if len(band) >= ENOUGH_FOR_A_PICTURE else _fitted_again(material)


def _band_at(data: dict[str, object]) -> BandAt | None:
    figures = [number_of(data, name) for name in ("shaft_rpm", "amps", "low", "high")]
    if any(figure is None for figure in figures):
        return None
    rpm, amps, low, high = (figure or 0.0 for figure in figures)
    return BandAt(rpm, amps, low, high, bool(data.get("extrapolated")))


def _fitted_again(material: Material) -> tuple[BandAt, ...]:
    fit = fit_of(points_in(material.verdict))
    if fit is None:
        return ()
    return tuple(BandAt(b.shaft_rpm, b.amps, b.low, b.high, b.extrapolated) for b in fit.drawn())
