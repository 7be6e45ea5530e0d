"""The chart of a reference unit: limits and signals."""

from __future__ import annotations

import pytest

from acquire.errors import OrderError
from acquire.study.reference_chart import individuals_chart, reference_study
from acquire.study.reference_picture import picture
from acquire.study.reference_text import lines
from tests.study.made_runs import made_run

FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
"""NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2: ten batches of a flow rate."""


def test_the_limits_are_those_of_the_handbook() -> None:
    """6.3.2.2: centre 50.81, upper limit 55.8041, lower limit 45.8159, nothing outside."""
    chart = individuals_chart(FLOW)
    assert chart.centre == pytest.approx(50.81, abs=5e-9)
    assert chart.high == pytest.approx(55.8041, abs=5e-5)
    assert chart.low == pytest.approx(45.8159, abs=5e-5)
    assert chart.signals == ()
    assert chart.in_control


def test_later_values_do_not_move_the_limits_of_the_first_ten() -> None:
    first, more = individuals_chart(FLOW), individuals_chart([*FLOW, 60.0, 40.0])
    assert (more.low, more.centre, more.high) == (first.low, first.centre, first.high)
    assert [(signal.kind, signal.first) for signal in more.signals] == [
        ("outside", 11),
        ("outside", 12),
    ]
    assert not more.in_control


@pytest.mark.parametrize(("count", "warned"), [(7, False), (8, True), (11, True)])
def test_eight_in_a_row_on_one_side_are_a_signal_and_seven_are_none(
    count: int, warned: bool
) -> None:
    chart = individuals_chart([*FLOW, 50.0, *([51.0] * count)])
    assert [signal.kind for signal in chart.signals] == (["one side"] if warned else [])
    if warned:
        assert (chart.signals[0].first, chart.signals[0].last) == (12, 11 + count)
    assert chart.in_control is not warned


def test_a_value_on_the_centre_ends_a_row() -> None:
    base = [1.0, 3.0] * 5
    chart = individuals_chart([*base, *([2.5] * 6), 2.0, *([2.5] * 6)])
    assert chart.signals == ()


def test_a_signal_of_long_ago_leaves_the_bench_in_control_today() -> None:
    chart = individuals_chart([*FLOW, 60.0, 50.0])
    assert chart.signals
    assert chart.in_control


def test_a_drift_of_one_percent_is_seen_at_every_speed_and_together() -> None:
    steady = [0.1, -0.1, 0.05, -0.05, 0.0, 0.1, -0.1, 0.02, -0.02, 0.0]
    runs = [
        made_run(k, {1500.0: 50.0 + off, 6000.0: 100.0 + 2 * off})
        for k, off in enumerate([*steady, 0.5, 0.5], 1)
    ]
    found = reference_study(runs)
    assert set(found.speeds) == {1500.0, 6000.0}
    assert found.together.centre == pytest.approx(1.0, abs=1e-12)
    assert found.together.values[-1] == pytest.approx(1.01, abs=1e-4)
    assert found.as_json()["in_control"] is False
    said = "\n".join(lines(found))
    assert "LOOK !" in said
    assert "run 11 is above the limits" in said
    assert "zero the clamp" in said


def test_few_runs_give_limits_that_are_called_provisional() -> None:
    found = reference_study([made_run(k, {1500.0: 50.0 + 0.1 * (k % 2)}) for k in range(1, 5)])
    assert any("provisional" in caution for caution in found.cautions)


def test_only_speeds_of_every_run_are_charted_and_the_others_are_named() -> None:
    runs = [made_run(k, {1500.0: 50.0 + k % 2}) for k in range(1, 4)]
    runs.append(made_run(4, {1500.0: 50.5, 3000.0: 80.0}))
    found = reference_study(runs)
    assert set(found.speeds) == {1500.0}
    assert any("3000" in caution for caution in found.cautions)
    with pytest.raises(OrderError, match="3000"):
        reference_study(runs, 3000.0)


def test_runs_without_a_common_speed_are_refused() -> None:
    with pytest.raises(OrderError, match="no set speed"):
        reference_study([made_run(1, {1500.0: 50.0}), made_run(2, {1600.0: 52.0})])


def test_the_picture_marks_what_stands_out_and_keeps_to_its_width() -> None:
    chart = individuals_chart([*FLOW, 60.0])
    drawn = picture(chart, columns=40)
    grid = [line.partition("|")[2] for line in drawn if "|" in line]
    assert sum(line.count("X") for line in grid) == 1
    assert sum(line.count("o") for line in grid) == len(FLOW)
    assert "X" in grid[0]
    assert max(map(len, grid)) <= 40
    many = picture(individuals_chart(FLOW * 20), columns=40)
    assert max(len(line.partition("|")[2]) for line in many) == 40


def test_one_wild_run_does_not_flatten_the_picture_of_the_others() -> None:
    drawn = picture(individuals_chart([*FLOW, 0.5]))
    grid = [line[11:] for line in drawn[:13]]
    assert "X" in grid[-1]
    assert sum("o" in line for line in grid) >= 4


@pytest.mark.parametrize("far", [55.9, 56.5, 60.0, 90.0, 45.7, 30.0, 1.0])
def test_the_axis_gives_the_value_of_a_run_outside_the_limits_on_its_own_row(far: float) -> None:
    """However near the limit it lies: the limits of the handbook are 45.8159 and 55.8041."""
    drawn = picture(individuals_chart([*FLOW, far]))
    row = next(line for line in drawn if "X" in line)
    assert float(row.split()[0]) == far
    assert "=" not in row
    named = [float(line.split()[0]) for line in drawn if line.strip()[:1].isdigit()]
    assert named == sorted([far, 45.816, 50.81, 55.804], reverse=True)


def test_a_run_beyond_the_picture_is_marked_with_an_arrow_that_is_explained() -> None:
    wild = picture(individuals_chart([*FLOW, 1000.0, 1.0]))
    assert wild[0].startswith("     1000 ^")
    assert wild[12].startswith("        1 v")
    assert "^ beyond the picture   v beyond the picture" in wild[-1]
    assert "beyond" not in picture(individuals_chart([*FLOW, 60.0]))[-1]


def test_of_two_runs_on_one_row_outside_the_newest_is_named() -> None:
    drawn = picture(individuals_chart([*FLOW, 60.0, 60.01]))
    assert drawn[0].startswith("    60.01 |")
    assert drawn[0].count("X") == 2


def test_a_run_unlike_all_others_that_are_alike_is_drawn_with_its_value() -> None:
    drawn = picture(individuals_chart([*([50.0] * 10), 50.5, 49.0]))
    assert drawn[0].startswith("     50.5 |")
    assert drawn[12].startswith("       49 |")
    assert [line.split()[0] for line in drawn[:13] if "o" in line] == ["50"]


def test_values_that_are_all_alike_are_drawn_too() -> None:
    assert any("o" in line for line in picture(individuals_chart([50.0] * 4)))
