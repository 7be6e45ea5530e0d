"""Accuracy as a data sheet prints it."""

from __future__ import annotations

import math

import pytest

from profiles.accuracy import Accuracy
from tests.profiles.conftest import Problems

DATA_SHEET = Accuracy(
    percent_of_reading=0.1, percent_of_range=0.02, range=300.0, digits=2, resolution=0.01
)


def test_the_limit_is_the_straight_sum_of_its_parts() -> None:
    assert DATA_SHEET.limit(90.0) == pytest.approx(0.09 + 0.06 + 0.02)
    assert DATA_SHEET.limit(-90.0) == DATA_SHEET.limit(90.0)


def test_a_limit_is_a_rectangular_half_width_as_in_the_gum() -> None:
    """JCGM 100:2008, 4.3.7: u = a / √3. H.1.3.4 there has ±0.5 °C treated so."""
    assert Accuracy(absolute=0.5).u(20.0) == pytest.approx(0.5 / math.sqrt(3))


def test_a_quoted_expanded_uncertainty_is_divided_by_its_factor() -> None:
    """JCGM 100:2008, 4.3.3, example: 1000.000325 g, ±240 µg at three standard deviations: 80 µg."""
    certificate = Accuracy(absolute=240e-6, distribution="normal", k=3.0)
    assert certificate.u(1000.000325) == pytest.approx(80e-6)


def test_a_triangular_limit_is_divided_by_the_root_of_six() -> None:
    """JCGM 100:2008, 4.3.9, note: variance a² / 6 for a symmetric triangular distribution."""
    assert Accuracy(absolute=1.0, distribution="triangular").u(0.0) == pytest.approx(6**-0.5)


def test_the_parts_add_up_to_the_whole() -> None:
    parts = DATA_SHEET.parts(90.0)
    assert [name for name, _ in parts] == [
        "percent of reading",
        "percent of range",
        "display digits",
    ]
    assert sum(u for _, u in parts) == pytest.approx(DATA_SHEET.u(90.0))


def test_nothing_stated_is_no_uncertainty() -> None:
    assert Accuracy().u(90.0) == 0.0
    assert Accuracy().parts(90.0) == []


def test_percentages_of_range_need_the_range_and_digits_their_step(problems_of: Problems) -> None:
    said = problems_of(
        "rigs",
        """
        title = "x"
        [channels.shaft_rpm]
        driver = "hand"
        accuracy = { percent_of_range = 0.1 }
        [channels.amps]
        driver = "hand"
        accuracy = { digits = 5 }
        """,
    )
    assert "needs the range" in said["channels.shaft_rpm.accuracy.percent_of_range"]
    assert "size of one display step" in said["channels.amps.accuracy.digits"]
