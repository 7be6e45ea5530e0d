"""Draws a chart as SVG, by hand: the same string stands in HTML, in the PDF and in a file.

No plotting library: importing one takes longer than the whole report, and its SVG is ten times as
large and words in it are outlines. Colours are from the palette of Okabe and Ito ("Color Universal
Design", 2008), told apart without colour by form: rated is a solid line, allowed a bar at each
speed that is judged, wider than any sign. It lies over the white of a sign and under its outline,
so that neither ever hides the other. The bars are joined by a dashed line where the limit holds
between them too, else by a faint dotted one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from acquire.report.chart import BandAt, Chart, ChartPoint, Line
from acquire.report.svg_text import element, path, text

WIDTH = 480.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 466.0, 22.0, 246.0
INK, PALE = "#222222", "#d9d9d9"
BLUE, SKY, VERMILION, GREEN = "#0072B2", "#56B4E9", "#D55E00", "#009E73"
PAPER_FONT = "Libertinus Serif"
SCREEN_FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Noto Sans', sans-serif"
SIZE = 12.0
LEGEND_ROW = 17.0
Form = Literal["circle", "square", "diamond", "triangle"]
_FORMS: dict[str, Form] = {"fail": "square", "undecided": "diamond"}
_CORNERS: dict[Form, tuple[tuple[float, float], ...]] = {
    "square": ((-4.2, -4.2), (4.2, -4.2), (4.2, 4.2), (-4.2, 4.2)),
    "diamond": ((0.0, -5.6), (5.6, 0.0), (0.0, 5.6), (-5.6, 0.0)),
    "triangle": ((0.0, -5.0), (4.6, 3.2), (-4.6, 3.2)),
}
LEGEND_SIZE = 11.0
BAR_HALF = 10.0
"""Half the length of the bar that marks the limit at a speed."""
PEN = 1.8
"""Width of the outline of a sign."""
BEFORE_PEN = (1.2, "5 2 1 2")
"""Width and dashes of the fitted curve of the run before."""


def draw(chart: Chart, *, font: str = SCREEN_FONT) -> str:
    """The chart as one SVG element, readable alone."""
    frame = _Frame(chart)
    parts = [
        element("rect", width=WIDTH, height=height_of(chart), fill="#ffffff"),
        frame.axes(),
        _band(chart.band, frame),
        _line(chart.before_line, frame, stroke=GREEN, width=BEFORE_PEN[0], dash=BEFORE_PEN[1]),
        _line(chart.rated, frame, stroke=INK, width=1.6),
        "".join(_rated_mark(frame, rpm, amps) for rpm, amps in chart.rated),
        _fit_line(chart.band, frame),
        *(_ground(p, frame, before=True) for p in chart.before),
        *(_ground(p, frame) for p in chart.points),
        _limit(chart, frame),
        *(_point(p, frame, before=True) for p in chart.before),
        *(_point(p, frame) for p in chart.points),
        _legend(chart),
    ]
    return element(
        "svg",
        element("title", _escaped(chart.words.alt)) + "".join(parts),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH:g} {height_of(chart):g}",
        role="img",
        font_family=font,
        font_size=SIZE,
    )


def _escaped(words: str) -> str:
    from html import escape

    from profiles.plain_text import visible

    return escape(visible(words), quote=False)


class _Frame:
    """Turns speeds and currents into places, and draws the axes."""

    def __init__(self, chart: Chart) -> None:
        self.words = chart.words
        self.rpm_step = _step(chart.top_rpm, 7)
        self.amps_step = _step(chart.top_amps, 6)
        self.last_rpm = _up(chart.top_rpm * 1.03, self.rpm_step)
        self.last_amps = _up(chart.top_amps * 1.02, self.amps_step)

    def x(self, shaft_rpm: float) -> float:
        return LEFT + (RIGHT - LEFT) * shaft_rpm / self.last_rpm

    def y(self, amps: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * amps / self.last_amps

    def axes(self) -> str:
        parts = [self._amps_tick(amps) for amps in _ticks(self.last_amps, self.amps_step)]
        parts += [self._rpm_tick(rpm) for rpm in _ticks(self.last_rpm, self.rpm_step)]
        parts.append(_stroke([(LEFT, TOP), (LEFT, BOTTOM), (RIGHT, BOTTOM)], INK, 1.0))
        parts.append(text(self.words.y, x=LEFT - 36, y=TOP - 9, fill=INK))
        parts.append(text(self.words.x, x=RIGHT, y=BOTTOM + 31, fill=INK, text_anchor="end"))
        return "".join(parts)

    def _amps_tick(self, amps: float) -> str:
        y = self.y(amps)
        line = _stroke([(LEFT, y), (RIGHT, y)], PALE, 0.6)
        figure = self._figure(amps, self.amps_step)
        return line + text(figure, x=LEFT - 6, y=y + 4, text_anchor="end", fill=INK)

    def _rpm_tick(self, rpm: float) -> str:
        x = self.x(rpm)
        line = _stroke([(x, BOTTOM), (x, BOTTOM + 4)], INK, 1.0)
        figure = self._figure(rpm, self.rpm_step)
        return line + text(figure, x=x, y=BOTTOM + 16, text_anchor="middle", fill=INK)

    def _figure(self, value: float, step: float) -> str:
        decimals = max(0, -math.floor(math.log10(step))) if step < 1 else 0
        return f"{value:.{decimals}f}".replace(".", self.words.decimal)


def _step(top: float, about: int) -> float:
    """A round distance between ticks, so that about so many stand on an axis."""
    rough = max(top, 1e-6) / about
    power = 10.0 ** math.floor(math.log10(rough))
    return next(k * power for k in (1.0, 2.0, 5.0, 10.0) if k * power >= rough)


def _up(value: float, step: float) -> float:
    return step * math.ceil(value / step - 1e-9)


def _ticks(last: float, step: float) -> list[float]:
    return [k * step for k in range(round(last / step) + 1)]


def _stroke(
    points: Sequence[tuple[float, float]], colour: str, width: float, dash: str = ""
) -> str:
    return element(
        "path",
        d=path(list(points)),
        fill="none",
        stroke=colour,
        stroke_width=width,
        stroke_dasharray=dash or None,
        stroke_linejoin="round",
    )


def _line(line: Line, frame: _Frame, *, stroke: str, width: float, dash: str = "") -> str:
    if len(line) < 2:
        return ""
    return _stroke([(frame.x(rpm), frame.y(amps)) for rpm, amps in line], stroke, width, dash)


def _band(band: Sequence[BandAt], frame: _Frame) -> str:
    """The 95 % band as a light wash, cut at the edges of the picture."""
    if len(band) < 2:
        return ""
    high = [(frame.x(b.shaft_rpm), frame.y(min(b.high, frame.last_amps))) for b in band]
    low = [(frame.x(b.shaft_rpm), frame.y(max(b.low, 0.0))) for b in reversed(band)]
    return element("path", d=path([*high, *low], closed=True), fill=SKY, fill_opacity=0.28)


def _fit_line(band: Sequence[BandAt], frame: _Frame) -> str:
    inside = [(b.shaft_rpm, min(max(b.amps, 0.0), frame.last_amps)) for b in band]
    return _line(tuple(inside), frame, stroke=BLUE, width=1.0)


def _rated_mark(frame: _Frame, rpm: float, amps: float) -> str:
    x, y = frame.x(rpm), frame.y(amps)
    return element("rect", x=x - 2, y=y - 2, width=4, height=4, fill=INK)


def _ground(point: ChartPoint, frame: _Frame, *, before: bool = False) -> str:
    """The white of a sign, which sets it off from the lines below."""
    x, y = frame.x(point.shaft_rpm), frame.y(point.amps)
    return _form(_form_of(point, before=before), x, y, fill="#ffffff")


def _point(point: ChartPoint, frame: _Frame, *, before: bool = False) -> str:
    """The outline of a sign with its bar drawn over it, so that a short bar is seen too."""
    x, y = frame.x(point.shaft_rpm), frame.y(point.amps)
    colour = GREEN if before else BLUE
    return _outline(_form_of(point, before=before), x, y, colour) + _bar(point, frame, colour)


def _form_of(point: ChartPoint, *, before: bool) -> Form:
    return "triangle" if before else _FORMS.get(point.outcome, "circle")


def _outline(form: Form, x: float, y: float, colour: str) -> str:
    return _form(form, x, y, fill="none", stroke=colour)


def _form(form: Form, x: float, y: float, *, fill: str, stroke: str | None = None) -> str:
    pen = PEN if stroke else None
    if form == "circle":
        return element("circle", cx=x, cy=y, r=4.4, fill=fill, stroke=stroke, stroke_width=pen)
    d = path([(x + right, y + down) for right, down in _CORNERS[form]], closed=True)
    return element("path", d=d, fill=fill, stroke=stroke, stroke_width=pen)


def _bar(point: ChartPoint, frame: _Frame, colour: str) -> str:
    if not point.half_amps:
        return ""
    x = frame.x(point.shaft_rpm)
    low = frame.y(max(point.amps - point.half_amps, 0.0))
    high = frame.y(min(point.amps + point.half_amps, frame.last_amps))
    caps = [[(x - 3.5, end), (x + 3.5, end)] for end in (low, high)]
    return "".join(_stroke(part, colour, 1.3) for part in ([(x, low), (x, high)], *caps))


def _limit(chart: Chart, frame: _Frame) -> str:
    """What is allowed, over every line and the white of every sign."""
    if not chart.limit:
        return ""
    places = [(frame.x(rpm), frame.y(amps)) for rpm, amps in chart.limit]
    line = _stroke(places, VERMILION, *_limit_pen(chart)) if len(places) > 1 else ""
    bars = [[(x - BAR_HALF, y), (x + BAR_HALF, y)] for x, y in places]
    return line + "".join(_stroke(bar, VERMILION, 2.6) for bar in bars)


def _limit_pen(chart: Chart) -> tuple[float, str]:
    """Width and dashes of the line between the bars: faint where nothing is asked between them."""
    return (1.8, "6 4") if chart.limit_between else (0.8, "1.5 3.5")


# ---- legend ----------------------------------------------------------------------------------


def height_of(chart: Chart) -> float:
    """Height of the picture; its legend has as many rows as it needs."""
    rows = (len(_entries(chart)) + 1) // 2
    return BOTTOM + 42.0 + LEGEND_ROW * rows


def _legend(chart: Chart) -> str:
    """Every sign with its word, in two columns below the picture."""
    shown = _entries(chart)
    places = [
        (LEFT + 8 + 216 * (k % 2), BOTTOM + 50 + LEGEND_ROW * (k // 2)) for k in range(len(shown))
    ]
    parts = []
    for (sample, words), (x, y) in zip(shown, places, strict=True):
        parts.append(element("g", sample, transform=f"translate({x:g} {y:g})"))
        parts.append(text(words, x=x + 38, y=y + 4, fill=INK, font_size=LEGEND_SIZE))
    return "".join(parts)


def _entries(chart: Chart) -> list[tuple[str, str]]:
    words = chart.words
    across = [(0.0, 0.0), (26.0, 0.0)]
    entries = []
    used = {_form_of(point, before=False) for point in chart.points}
    said: dict[Form, str] = {
        "circle": words.measured,
        "square": words.fail,
        "diamond": words.undecided,
    }
    for form in (form for form in said if form in used):
        sign = _outline(form, 13, 0, BLUE) + _stroke([(13, -8), (13, 8)], BLUE, 1.3)
        entries.append((sign, said[form]))
    if chart.before:
        line = _stroke(across, GREEN, *BEFORE_PEN) if chart.before_line else ""
        ground = _form("triangle", 13, 0, fill="#ffffff")
        entries.append((line + ground + _outline("triangle", 13, 0, GREEN), words.before))
    if chart.rated:
        mark = element("rect", x=11, y=-2, width=4, height=4, fill=INK)
        entries.append((_stroke(across, INK, 1.6) + mark, words.rated))
    if chart.limit:
        line = _stroke([(-6.0, 0.0), (32.0, 0.0)], VERMILION, *_limit_pen(chart))
        entries.append((line + _stroke([(8, 0), (18, 0)], VERMILION, 3.2), words.limit))
    if chart.band:
        wash = element("rect", x=0, y=-6, width=26, height=12, fill=SKY, fill_opacity=0.28)
        entries.append((wash + _stroke(across, BLUE, 1.0), words.fit))
    return entries
