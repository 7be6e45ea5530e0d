"""The model functions: values computed independently, derivatives by differences, limits."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from acquire.curve import bridge_map, hyperbola
from acquire.curve.bridge_map import BRIDGE_MAP
from acquire.curve.fit import fit_curve
from acquire.curve.hyperbola import HYPERBOLA
from acquire.curve.model import CurveModel
from acquire.curve.points import CurvePoint
from tests.curve.machines import (
    TIME_DOMAIN,
    circuit_current,
    literature_cut_in_rpm,
    literature_top_amps,
)

SPEEDS = np.array([1500.0, 2000.0, 3000.0, 4000.0, 6000.0])


@pytest.mark.parametrize(
    ("r", "expected"),
    [
        (1e-9, [59.10, 79.51, 91.13, 95.45, 98.00]),
        (0.35, [39.73, 66.60, 85.09, 91.30, 96.37]),
        (1.0, [24.04, 46.40, 71.98, 83.08, 91.84]),
    ],
)
def test_the_bridge_map_gives_the_values_computed_by_hand(r: float, expected: list[float]) -> None:
    # Evaluated apart from this program: the tabled map by monotone cubic interpolation, and
    # the speed axis stretched by resistance.
    amps = bridge_map.current(SPEEDS, i_max_amps=100, n0_rpm=1000, r=r)
    assert amps == pytest.approx(expected, abs=0.02)


def test_the_bridge_map_joins_the_closed_form_of_continuous_conduction() -> None:
    # Caliskan, Perreault, Jahns, Kassakian 2003: share = sqrt(1 - (2 sqrt 3 / (pi z))^2).
    for z in (4.0, 6.0, 12.0, 40.0):
        closed = math.sqrt(1 - (2 * math.sqrt(3) / (math.pi * z)) ** 2)
        assert float(bridge_map.phi(z)) == pytest.approx(closed, rel=0.008)


def test_nothing_flows_below_cut_in() -> None:
    below = np.array([0.0, 500.0, 999.0])
    assert np.all(bridge_map.current(below, i_max_amps=90, n0_rpm=1000, r=0.3) == 0)
    assert np.all(hyperbola.current(below, i_max_amps=90, n0_rpm=1000, k=0.4) == 0)


def test_the_hyperbola_through_a_published_table_meets_the_printed_cut_in() -> None:
    # Free least squares through the table of the Citroen CX manual, computed apart from this
    # program: 85.251 A, 1100.05 rpm, 451.40 rpm; the manual prints 1100 rpm.
    amps = hyperbola.current(
        np.array([1100.0, 1500.0, 3000.0, 6000.0, 8000.0]),
        i_max_amps=85.251,
        n0_rpm=1100.05,
        k=451.40 / 1100.05,
    )
    assert amps == pytest.approx([0, 40, 69, 78, 80], abs=0.15)


@pytest.mark.parametrize("model", [BRIDGE_MAP, HYPERBOLA], ids=lambda model: model.name)
def test_derivatives_agree_with_differences(model: CurveModel) -> None:
    parameters = np.array([92.0, 1010.0, 0.37])
    speeds = np.array([1337.0, 1711.0, 2510.0, 4040.0, 9007.0])
    for index, step in enumerate((1e-3, 5e-2, 1e-5)):
        up, down = parameters.copy(), parameters.copy()
        up[index] += step
        down[index] -= step
        differences = (model.current(speeds, up) - model.current(speeds, down)) / (2 * step)
        exact = model.jacobian(speeds, parameters)[:, index]
        assert exact == pytest.approx(differences, rel=0.02, abs=1e-4)
    by_speed = (model.current(speeds + 1, parameters) - model.current(speeds - 1, parameters)) / 2
    assert model.slope(speeds, parameters) == pytest.approx(by_speed, rel=0.02, abs=1e-6)


@pytest.mark.parametrize("model", [BRIDGE_MAP, HYPERBOLA], ids=lambda model: model.name)
@pytest.mark.parametrize("shape", [1e-3, 0.1, 0.37, 4.0])
def test_what_the_solver_sees_is_the_curve_itself_and_its_derivatives(
    model: CurveModel, shape: float
) -> None:
    parameters = [92.0, 1010.0, shape]
    speeds = np.array([0.0, 500, 1009, 1010, 1011, 1337, 1711, 2510, 4040, 9007, 80_000, 900_000])
    amps, rows = model.traced(speeds, parameters)
    assert amps == pytest.approx(model.current(speeds, np.array(parameters)), rel=1e-9, abs=1e-9)
    # Steps so small that hardly any speed changes its piece of the map; one side where n0 is met.
    away = speeds != 1010
    for index, step in enumerate((1e-5, 1e-6, 1e-9)):
        up, down = list(parameters), list(parameters)
        up[index] += step
        down[index] -= step
        differences = (model.traced(speeds, up)[0] - model.traced(speeds, down)[0]) / (2 * step)
        assert rows[index][away] == pytest.approx(differences[away], rel=1e-3, abs=1e-4)


def test_at_its_own_foot_a_curve_is_seen_from_below() -> None:
    # n0 moves down, never up past a speed at which current flows.
    speeds, step = np.array([1010.0]), 1e-6
    for model in (BRIDGE_MAP, HYPERBOLA):
        _, rows = model.traced(speeds, [92.0, 1010.0, 0.37])
        lower = model.traced(speeds, [92.0, 1010.0 - step, 0.37])[0]
        assert rows[1] == pytest.approx(-lower / step, rel=1e-3)


@pytest.mark.parametrize("model", [BRIDGE_MAP, HYPERBOLA], ids=lambda model: model.name)
def test_more_speed_never_means_less_current(model: CurveModel) -> None:
    amps = model.current(np.linspace(0, 60_000, 4000), np.array([90.0, 950.0, 0.5]))
    assert all(after >= before for before, after in pairwise(amps.tolist()))


def test_a_machine_of_the_literature_is_fitted_with_its_own_constants() -> None:
    # The circuit was simulated in the time domain; top current and cut-in follow from the
    # published constants of the machine, not from the simulation.
    fit = fit_curve([CurvePoint(rpm, amps) for rpm, amps in TIME_DOMAIN])
    assert literature_top_amps() == pytest.approx(106.6, abs=0.05)
    assert fit.parameters["i_max_amps"].value == pytest.approx(literature_top_amps(), rel=0.01)
    assert fit.cut_in is not None
    assert fit.cut_in.value == pytest.approx(literature_cut_in_rpm(), rel=0.01)
    assert fit.residual_sd_amps < 0.5


@pytest.mark.parametrize("index", range(1, len(TIME_DOMAIN) - 1))
def test_a_point_of_that_machine_left_out_is_found_within_one_percent(index: int) -> None:
    rows = [row for place, row in enumerate(TIME_DOMAIN) if place != index]
    found = fit_curve([CurvePoint(*row) for row in rows]).at([TIME_DOMAIN[index][0]])[0]
    assert found.amps == pytest.approx(TIME_DOMAIN[index][1], abs=0.01 * 103.8)
    assert found.low <= TIME_DOMAIN[index][1] <= found.high


def test_a_machine_of_other_physics_stays_inside_the_band() -> None:
    # The closed form, with the check values computed apart from this program.
    truth = {"i_max_amps": 100.0, "n0_rpm": 1000.0, "r": 0.5}
    assert circuit_current(SPEEDS, **truth) == pytest.approx(
        [53.485, 73.072, 87.750, 93.049, 96.891], abs=1e-3
    )
    speeds = np.array([1200.0, 1500, 1800, 2200, 2700, 3500, 4500, 6000])
    amps = circuit_current(speeds, **truth)
    fit = fit_curve([CurvePoint(*pair) for pair in zip(speeds, amps, strict=True)])
    asked = np.linspace(1200, 6000, 49)
    for point, true_amps in zip(fit.at(list(asked)), circuit_current(asked, **truth), strict=True):
        assert point.low <= true_amps <= point.high
        assert abs(point.amps - true_amps) < 3
