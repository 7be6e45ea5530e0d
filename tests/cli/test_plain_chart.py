"""The plain chart: its axis stays readable however narrow it is."""

from __future__ import annotations

import pytest

from acquire.cli.plain_chart import ChartData, ChartPoint, draw

POINTS = [ChartPoint(rpm, 50.0, 1.0) for rpm in (1500.0, 6000.0)]


@pytest.mark.parametrize("columns", [30, 33, 40, 52, 72])
@pytest.mark.parametrize("top_rpm", [2000.0, 6000.0, 12000.0])
def test_no_speed_on_the_axis_touches_another(columns: int, top_rpm: float) -> None:
    """Speeds run together would read as one that is not there: 10002000."""
    data = ChartData([POINTS[0], ChartPoint(top_rpm, 80.0, 1.0)])
    labels = draw(data, columns=columns).splitlines()[-2].removesuffix("rpm").split()
    speeds = [float(label) for label in labels]
    assert len(speeds) >= 3
    assert speeds == sorted(speeds)
    assert max(speeds) <= 2 * top_rpm
