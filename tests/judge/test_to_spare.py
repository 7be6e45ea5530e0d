"""Which speed has the least to spare: counted in its doubt, and warm where that decides."""

from __future__ import annotations

import pytest

from acquire.judge.speed_result import SpeedResult
from acquire.judge.to_spare import to_spare


def at(amps: float, u_amps: float | None, **more: float) -> SpeedResult:
    return SpeedResult(3000.0, amps=amps, u_amps=u_amps, limit_amps=50.0, **more)  # type: ignore[arg-type]


def test_a_margin_counts_in_standard_uncertainties() -> None:
    assert to_spare(at(54.0, 2.0)) == pytest.approx(2.0)
    assert to_spare(at(52.0, 0.5)) > to_spare(at(54.0, 2.0))
    assert to_spare(at(49.0, 0.5)) == pytest.approx(-2.0)


def test_what_is_left_warm_decides_where_it_is_told() -> None:
    assert to_spare(at(60.0, 0.5, hot_amps=51.0, u_hot_amps=1.0)) == pytest.approx(1.0)


def test_without_a_doubt_a_reading_counts_as_certain_and_the_nearer_one_decides() -> None:
    assert to_spare(at(51.0, None)) > to_spare(at(60.0, 0.5))
    assert to_spare(at(51.0, None)) < to_spare(at(52.0, None))
    assert to_spare(at(49.9, None)) < to_spare(at(45.0, 0.5))
