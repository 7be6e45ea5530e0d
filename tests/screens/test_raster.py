"""Dots: places computed by hand, axes that are round, nothing drawn outside."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.screens.raster import (
    DASHES,
    Grid,
    Line,
    Raster,
    Wash,
    between,
    draw_line,
    draw_wash,
    tick_step,
    ticks_of,
)

GRID = Grid(10, 5, (0.0, 100.0), (0.0, 50.0))


def drawn(line: Line, grid: Grid = GRID) -> list[str]:
    raster = Raster(grid)
    draw_line(raster, line)
    return ["".join(row) for row in raster.signs("dots")]


def test_corners_are_the_corner_dots() -> None:
    """Unicode 16, block 2800: dot 1 is upper left (bit 0), dot 8 lower right (bit 7)."""
    low = drawn(Line([0.0], [0.0], "rated"))
    high = drawn(Line([100.0], [50.0], "rated"))
    assert low[-1][0] == chr(0x2840)
    assert high[0][-1] == chr(0x2808)


def test_a_level_line_is_level_and_whole() -> None:
    rows = drawn(Line([0.0, 100.0], [0.0, 0.0], "rated"))
    assert rows[-1] == chr(0x28C0) * 10
    assert all(not row.strip() for row in rows[:-1])


def test_a_dashed_line_has_gaps() -> None:
    row = drawn(Line([0.0, 100.0], [0.0, 0.0], "rated", "dashes"))[-1]
    assert " " in row
    assert row.strip()


def test_a_missing_value_breaks_the_line() -> None:
    row = drawn(Line([0.0, 30.0, math.nan, 70.0, 100.0], [0.0, 0.0, 0.0, 0.0, 0.0], "rated"))[-1]
    assert row[4:6] == "  "


@given(
    st.lists(st.tuples(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6)), max_size=8),
)
def test_nothing_falls_outside_whatever_is_drawn(points: list[tuple[float, float]]) -> None:
    raster = Raster(GRID)
    draw_line(raster, Line([x for x, _ in points], [y for _, y in points], "rated"))
    assert all(0 <= bits <= 255 for row in raster.bits for bits in row)


@given(
    st.tuples(st.integers(-50, 50), st.integers(-50, 50)),
    st.tuples(st.integers(-50, 50), st.integers(-50, 50)),
)
def test_a_stretch_has_no_holes(start: tuple[int, int], end: tuple[int, int]) -> None:
    dots = [start, *between(start, end)]
    assert dots[-1] == end
    for one, other in pairwise(dots):
        assert max(abs(one[0] - other[0]), abs(one[1] - other[1])) <= 1


def test_a_wash_is_lighter_than_what_it_lies_under() -> None:
    raster = Raster(GRID)
    draw_wash(raster, Wash([n * 5.0 for n in range(21)], [0.0] * 21, [50.0] * 21))
    dots = sum(bits.bit_count() for row in raster.bits for bits in row)
    assert 0.15 < dots / (GRID.columns * GRID.rows * 8) < 0.35


def test_each_line_has_a_pattern_of_its_own_and_a_plain_sign_of_its_own() -> None:
    """Along the same way they differ by their dots alone."""
    ways = {dash: drawn(Line([0.0, 100.0], [0.0, 0.0], "rated", dash))[-1] for dash in DASHES}
    assert len(set(ways.values())) == len(DASHES)
    raster = Raster(GRID)
    draw_line(raster, Line([0.0, 100.0], [0.0, 0.0], "rated", plain="-"))
    draw_line(raster, Line([50.0, 100.0], [0.0, 0.0], "allowed", "dashes", plain="."))
    assert set("".join(raster.signs("ascii")[-1])) == {"-", "."}


@given(st.floats(1e-3, 1e6), st.integers(1, 20))
def test_steps_are_one_two_or_five_and_not_too_many(span: float, at_most: int) -> None:
    step = tick_step(span, at_most)
    lead = step / 10.0 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(lead - round_one) for round_one in (1, 2, 5, 10)) < 1e-6
    assert span / step <= at_most * (1 + 1e-6)
    assert len(ticks_of((0.0, span), at_most)) <= at_most + 1


def test_an_empty_axis_is_refused() -> None:
    with pytest.raises(ValueError, match="empty axis"):
        Grid(10, 5, (5.0, 5.0), (0.0, 1.0))
    with pytest.raises(ValueError, match="no ticks"):
        tick_step(0.0, 5)
