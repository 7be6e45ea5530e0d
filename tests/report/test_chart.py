"""The picture: uncertainty seen, the limit on top of all, told apart without colour."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from acquire.errors import OrderError
from acquire.report.chart import BandAt, Chart, ChartPoint, ChartWords, chart_of
from acquire.report.chart_file import png_of, write_chart
from acquire.report.chart_svg import BEFORE_PEN, BLUE, GREEN, SKY, VERMILION, draw, height_of
from acquire.report.language import language
from acquire.report.material import material_of
from tests.report.runs import Order, make_run, settings

SVG = "{http://www.w3.org/2000/svg}"
WORDS = ChartWords(
    "alt", "x", "y", "measured", "before", "fit", "rated", "allowed", fail="below", undecided="open"
)
POINTS = (
    ChartPoint(1500.0, 41.0, 1.5, "undecided"),
    ChartPoint(3000.0, 60.0, 2.0, "fail"),
    ChartPoint(6000.0, 91.0, 0.3, "pass"),
)
CHART = Chart(
    points=POINTS,
    words=WORDS,
    band=tuple(BandAt(1000.0 + 100 * k, 1.6 * k, 1.5 * k, 1.7 * k, False) for k in range(60)),
    rated=((1500.0, 45.0), (3000.0, 77.0), (6000.0, 90.0)),
    limit=((1500.0, 40.5), (3000.0, 69.3), (6000.0, 81.0)),
)


def _elements(chart: Chart) -> list[ET.Element]:
    return list(ET.fromstring(draw(chart)).iter())


NARROW = replace(
    CHART,
    points=(
        ChartPoint(1500.0, 40.7, 0.4, "undecided"),
        ChartPoint(3000.0, 69.0, 0.3, "fail"),
        ChartPoint(6000.0, 81.2, 0.2, "pass"),
    ),
    before=(ChartPoint(3000.0, 69.3, 0.4),),
)
"""Points that lie on what is allowed."""


def test_a_limit_hides_no_part_of_a_sign_and_no_sign_hides_the_limit() -> None:
    """In the order of drawing: all white, then what is allowed, then every outline and bar."""
    drawn = [e for e in _in_the_picture(NARROW) if e.tag != f"{SVG}text"]
    grounds = [k for k, e in enumerate(drawn) if e.get("fill") == "#ffffff" and k > 1]
    limits = [k for k, e in enumerate(drawn) if e.get("stroke") == VERMILION]
    outlines = [k for k, e in enumerate(drawn) if e.get("stroke-width") == "1.8"]
    bars = [k for k, e in enumerate(drawn) if e.get("stroke-width") == "1.3"]
    assert len(grounds) == len(outlines) == 4
    assert max(grounds) < min(limits)
    assert max(limits) < min(*outlines, *bars)
    assert {drawn[k].get("fill") for k in (*outlines, *bars)} == {"none"}
    assert not [e for e in drawn if e.get("stroke") == "#ffffff"]


def test_a_limit_is_wider_than_the_sign_that_lies_on_it() -> None:
    bars = [e.get("d", "") for e in _in_the_picture(NARROW) if e.get("stroke-width") == "2.6"]
    outlines = [e for e in _in_the_picture(NARROW) if e.get("stroke-width") == "1.8"]
    assert len(bars) == 3
    widest = max(_width(e.get("d", "")) for e in outlines if e.get("d"))
    assert all(_width(bar) > widest + 6.0 for bar in bars)


def _width(d: str) -> float:
    across = [float(pair.split()[0]) for pair in d.strip("MZ ").split(" L")]
    return max(across) - min(across)


def _in_the_picture(chart: Chart) -> list[ET.Element]:
    """What is drawn, without the legend."""
    root = ET.fromstring(draw(chart))
    return [e for e in root if e.tag != f"{SVG}g"]


@pytest.mark.parametrize(
    ("high", "last"), [(107.0, 120.0), (130.0, 150.0), (9e6, 150.0)], ids=["", "high", "wild"]
)
def test_a_band_above_all_points_is_seen_whole_unless_it_is_wild(high: float, last: float) -> None:
    band = tuple(BandAt(1000.0 + 100 * k, 80.0, 70.0, high, False) for k in range(60))
    chart = replace(CHART, band=band)
    ticks = [e.text for e in _in_the_picture(chart) if e.get("text-anchor") == "end"]
    assert f"{last:.0f}" in ticks
    assert max(int(one) for one in ticks if one and one.isdigit()) == last
    wash = next(e for e in _in_the_picture(chart) if e.get("fill") == SKY)
    top = min(float(pair.split()[1]) for pair in wash.get("d", "").strip("MZ ").split(" L"))
    assert (top == 22.0) == (high > last)


@pytest.mark.parametrize(
    ("between", "width", "dashes"), [(True, "1.8", "6 4"), (False, "0.8", "1.5 3.5")]
)
def test_only_a_limit_that_holds_between_the_speeds_is_drawn_between_them(
    between: bool, width: str, dashes: str
) -> None:
    drawn = _elements(replace(CHART, limit_between=between))
    lines = [e for e in drawn if e.get("stroke") == VERMILION and e.get("stroke-dasharray")]
    assert [line.get("d", "").count("L") for line in lines] == [2, 1]  # the picture, the legend
    assert {(line.get("stroke-width"), line.get("stroke-dasharray")) for line in lines} == {
        (width, dashes)
    }


@pytest.mark.parametrize(
    ("at", "said"),
    [("rated speeds", "allowed"), ("measured speeds", "allowed, also between")],
)
def test_the_legend_says_where_the_limit_holds(tmp_path: Path, at: str, said: str) -> None:
    material = material_of(make_run(tmp_path), settings())
    asked = replace(material, run=replace(material.run, verdict={**material.verdict, "at": at}))
    chart = chart_of(asked, language("en"))
    assert chart.words.limit == said
    assert chart.limit_between == (at == "measured speeds")


def test_each_outcome_has_a_form_of_its_own() -> None:
    forms = []
    for outcome in ("pass", "fail", "undecided"):
        chart = replace(CHART, points=(ChartPoint(3000.0, 60.0, None, outcome),), band=())
        sign = next(e for e in _elements(chart) if e.get("stroke-width") == "1.8")
        forms.append((sign.tag, len(sign.get("d", "").split("L"))))
    assert len({tag for tag, _ in forms}) == 2
    assert forms[0][0] == f"{SVG}circle"
    drawn = [
        draw(replace(CHART, points=(ChartPoint(3000.0, 60.0, None, outcome),)))
        for outcome in ("fail", "undecided")
    ]
    assert drawn[0] != drawn[1]


def test_bars_are_as_long_as_the_doubt_and_drawn_over_the_sign() -> None:
    elements = _elements(replace(CHART, band=(), before=()))
    bars = [e for e in elements if e.get("stroke") == BLUE and e.get("stroke-width") == "1.3"]
    first = bars[0].get("d", "").replace("M", "").split(" L")
    (x1, low), (x2, high) = ([float(part) for part in end.split()] for end in first)
    assert x1 == x2
    per_amp = (246.0 - 22.0) / 100.0
    assert low - high == pytest.approx(2 * 1.5 * per_amp, abs=0.05)
    signs = [k for k, e in enumerate(elements) if e.get("stroke-width") == "1.8"]
    assert elements.index(bars[0]) > signs[0]


def test_nothing_leaves_the_picture_however_wild_the_band() -> None:
    wild = tuple(BandAt(500.0 * k, 50.0, -900.0, 9e6, True) for k in range(1, 13))
    for element in _elements(replace(CHART, band=wild)):
        for pair in element.get("d", "").replace("M", "").replace("Z", "").split(" L"):
            if pair.strip():
                x, y = (float(part) for part in pair.split())
                assert -40.0 <= x <= 480.0
                assert -10.0 <= y <= 330.0


@pytest.mark.parametrize(("line", "times"), [(((1000.0, 5.0), (6000.0, 70.0)), 2), ((), 0)])
def test_the_curve_of_the_run_before_is_in_the_legend_where_it_is_drawn(
    line: tuple[tuple[float, float], ...], times: int
) -> None:
    chart = replace(NARROW, before_line=line)
    dashed = [e for e in _elements(chart) if e.get("stroke-dasharray") == BEFORE_PEN[1]]
    assert len(dashed) == times
    assert {e.get("stroke") for e in dashed} <= {GREEN}


def test_everything_shown_has_a_word_in_the_legend() -> None:
    chart = replace(CHART, before=(ChartPoint(1500.0, 30.0, 1.0),))
    texts = [e.text for e in _elements(chart) if e.tag == f"{SVG}text"]
    for word in ("measured", "below", "open", "before", "fit", "rated", "allowed"):
        assert texts.count(word) == 1
    bare = [e.text for e in _elements(Chart(points=POINTS, words=WORDS)) if e.tag == f"{SVG}text"]
    assert "rated" not in bare
    assert "allowed" not in bare


@pytest.mark.parametrize(
    ("outcomes", "said"),
    [
        (("pass", "not judged", ""), ["measured"]),
        (("fail",), ["below"]),
        (("undecided", "pass", "pass"), ["measured", "open"]),
        (("undecided", "fail", "pass"), ["measured", "below", "open"]),
    ],
)
def test_each_sign_that_is_used_stands_in_the_legend_and_no_other(
    outcomes: tuple[str, ...], said: list[str]
) -> None:
    points = tuple(ChartPoint(1500.0 * k, 50.0, 1.0, o) for k, o in enumerate(outcomes, 1))
    root = ET.fromstring(draw(Chart(points=points, words=WORDS)))
    samples = [group for group in root if group.tag == f"{SVG}g"]
    texts = [e.text for e in root.iter(f"{SVG}text")]
    assert [text for text in texts if text in ("measured", "below", "open")] == said
    used = {_shape(e) for e in root if e.get("stroke-width") == "1.8"}
    assert {_shape(e) for one in samples for e in one if e.get("stroke-width") == "1.8"} == used


def _shape(sign: ET.Element) -> str:
    """A circle, or the corners of a sign beside its first."""
    if sign.tag == f"{SVG}circle":
        return "circle"
    corners = [tuple(map(float, p.split())) for p in sign.get("d", "").strip("MZ ").split(" L")]
    (x0, y0), *others = corners
    return str([(round(x - x0), round(y - y0)) for x, y in others])


def test_colours_are_those_of_okabe_and_ito() -> None:
    """Okabe and Ito, Color Universal Design (2008): blue, sky blue, vermilion, bluish green."""
    rgb = {
        "blue": (0, 114, 178),
        "sky": (86, 180, 233),
        "red": (213, 94, 0),
        "green": (0, 158, 115),
    }
    shown = {"blue": BLUE, "sky": SKY, "red": VERMILION, "green": GREEN}
    for name, colour in shown.items():
        assert tuple(bytes.fromhex(colour[1:])) == rgb[name]


def test_a_chart_without_a_point_is_still_a_picture(tmp_path: Path) -> None:
    order = Order(amps={1500.0: None, 6000.0: None})
    material = material_of(make_run(tmp_path, order), settings())
    chart = chart_of(material, language("en"))
    assert chart.words.alt == "Output curve without a measured point."
    assert len(_elements(chart)) > 20


def test_words_of_a_chart_cannot_become_markup() -> None:
    evil = "</text><script>alert(1)</script>\"'&"
    words = replace(WORDS, alt=evil, x=evil, y=evil, measured=evil)
    root = ET.fromstring(draw(replace(CHART, words=words)))
    assert not list(root.iter(f"{SVG}script"))
    assert [e.text for e in root.iter(f"{SVG}text")].count(evil) == 3


def test_the_same_picture_is_written_as_svg_and_png(tmp_path: Path) -> None:
    run = make_run(tmp_path / "shelf")
    svg = write_chart(run, tmp_path / "c.svg", settings=settings())
    png = write_chart(run, tmp_path / "c.png", settings=settings())
    assert ET.parse(svg).getroot().tag == f"{SVG}svg"
    data = png.read_bytes()
    chart = chart_of(material_of(run, settings()), language("en"))
    width, height = (int.from_bytes(data[k : k + 4], "big") for k in (16, 20))
    assert (width, height) == (2000, round(height_of(chart) / 480.0 * 2000))


def test_a_chart_is_never_put_into_the_sealed_run(tmp_path: Path) -> None:
    run = make_run(tmp_path)
    with pytest.raises(OrderError, match="sealed run"):
        write_chart(run, run / "curve.svg", settings=settings())
    with pytest.raises(OrderError, match=r"\.svg or \.png"):
        write_chart(run, tmp_path / "curve.gif", settings=settings())


def test_a_png_is_drawn_without_any_font_of_the_computer() -> None:
    assert png_of(CHART).startswith(b"\x89PNG")
