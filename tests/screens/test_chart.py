"""The curve's picture: every line told from every other without a colour, and named."""

from __future__ import annotations

import pytest

from acquire.curve.fit import fit_curve
from acquire.curve.points import CurvePoint
from acquire.screens import made_up
from acquire.screens.curve_chart import CurvePicture, chart_with_legend
from acquire.screens.curve_facts import Measured, picture_of
from acquire.screens.raster import DASHES, Glyphs
from acquire.screens.rows import text_of, width_of

AMPS = (47.1, 62.9, 73.8, 81.4)


def finished() -> CurvePicture:
    """Everything a picture may hold."""
    points = [CurvePoint(rpm, a, 0.45) for rpm, a in zip(made_up.SPEEDS, AMPS, strict=True)]
    return picture_of(
        speeds=made_up.SPEEDS, rated=made_up.RATED, accept=made_up.ACCEPT,
        points=made_up.POINTS, before=made_up.BEFORE, fit=fit_curve(points), now=(2000.0, 60.0),
    )  # fmt: skip


def test_no_two_lines_are_drawn_alike_with_or_without_dots() -> None:
    lines = finished().lines
    assert len(lines) == 4, "before, allowed, rated, fitted"
    assert len({line.dash for line in lines}) == len(lines)
    assert len({DASHES[line.dash] for line in lines}) == len(lines)
    assert len({line.plain for line in lines}) == len(lines)


@pytest.mark.parametrize("glyphs", ["dots", "ascii"])
def test_the_legend_names_whatever_is_drawn_each_with_its_own_sign(glyphs: Glyphs) -> None:
    rows = chart_with_legend(finished(), width=44, height=14, glyphs=glyphs, legend_width=80)
    assert len(rows) == 14
    legend = " ".join(text_of(one) for one in rows[-2:])
    signs = []
    for words in ("measured", "rated", "allowed", "fitted", "95 % band", "before", "now"):
        assert words in legend, words
        signs.append(legend.partition(f" {words}")[0].split()[-1])
    assert len(set(signs)) == len(signs)
    assert glyphs == "dots" or "\n".join(text_of(one) for one in rows).isascii()


@pytest.mark.parametrize(("glyphs", "sign"), [("dots", "◌"), ("ascii", "?")])
def test_a_reading_that_had_not_settled_is_in_the_legend_where_there_is_one(
    glyphs: Glyphs, sign: str
) -> None:
    points = [Measured(1500.0, 47.0, 0.4), Measured(6000.0, 90.0, 2.0, settled=False)]
    for these, told in ((points, True), (points[:1], False)):
        picture = picture_of(speeds=(1500.0, 6000.0), rated=None, accept=None, points=these)
        rows = chart_with_legend(picture, width=44, height=14, glyphs=glyphs, legend_width=80)
        text = [text_of(one) for one in rows]
        assert (f"{sign} not settled" in text[-1]) is told
        assert any(sign in one for one in text[:-1]) is told


def test_in_plain_signs_the_chart_is_drawn_with_the_signs_of_its_legend() -> None:
    rows = chart_with_legend(finished(), width=64, height=30, glyphs="ascii", legend_width=64)
    drawn = "".join(text_of(one)[7:] for one in rows[:-4])
    assert set("-.*:+Oo") <= set(drawn)
    assert "'" not in drawn


@pytest.mark.parametrize("width", [34, 44, 64, 120])
def test_the_axis_names_its_unit_and_the_legend_keeps_to_its_room(width: int) -> None:
    rows = chart_with_legend(finished(), width=width, height=16, glyphs="dots", legend_width=width)
    text = [text_of(one) for one in rows]
    assert sum("rpm" in one for one in text) == 1
    assert all(width_of(one) <= width for one in rows)


def test_the_axes_do_not_jump_when_a_point_lies_a_little_off_its_speed() -> None:
    """6000.3 rpm would ask for steps of 1000 where 6000 asks for 500."""
    without = picture_of(speeds=made_up.SPEEDS, rated=made_up.RATED, accept=made_up.ACCEPT)
    points = [Measured(1494.2, 47.0, 0.3), Measured(6000.3, 81.0, 0.3)]
    taken = picture_of(
        speeds=made_up.SPEEDS, rated=made_up.RATED, accept=made_up.ACCEPT, points=points
    )
    assert taken.x_limits == without.x_limits
    far = picture_of(speeds=(1500.0,), rated=None, accept=None, points=[Measured(9000.0, 80.0)])
    assert far.x_limits[1] >= 9000.0
