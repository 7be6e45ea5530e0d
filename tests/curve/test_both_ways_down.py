"""The quick way down against scipy's trust-region solver, on printed tables and random sweeps."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from acquire.curve import one_model
from acquire.curve.bridge_map import BRIDGE_MAP
from acquire.curve.fitter import Minimum, lowest_minimum
from acquire.curve.hyperbola import HYPERBOLA
from acquire.curve.model import CurveModel, FloatArray
from acquire.curve.one_model import SOFTNESS, fit_model, fit_once, ground, starts
from acquire.curve.points import CurvePoint
from acquire.curve.weighing import WeighedPoints, weigh
from tests.curve.published_tables import TABLES, PublishedTable
from tests.curve.random_curves import random_curve

MODELS = pytest.mark.parametrize("model", [BRIDGE_MAP, HYPERBOLA], ids=lambda model: model.name)
SWEEPS = 40


def bent(residuals: FloatArray, softness: float = SOFTNESS) -> FloatArray:
    """Residuals whose plain squares are the soft L1 loss: the last one counts in full."""
    root = np.sqrt(1 + (residuals[:-1] / softness) ** 2)
    return np.append(residuals[:-1] * np.sqrt(2 / (1 + root)), residuals[-1])


def cost(model: CurveModel, points: WeighedPoints, parameters: FloatArray) -> float:
    residuals = bent(ground(model, points, points.sigma_amps)(parameters.tolist())[0])
    return 0.5 * float(residuals @ residuals)


def first_round(model: CurveModel, points: WeighedPoints) -> FloatArray:
    """What the first of the two rounds finds from its own starts."""
    begin = starts(model, points)
    return fit_once(
        model, points, sigma=points.sigma_amps, starts=begin, softness=SOFTNESS
    ).parameters


def by_scipy(model: CurveModel, points: WeighedPoints, start: FloatArray) -> FloatArray:
    """The same sum brought to its minimum by scipy, derivatives by differences."""
    look = ground(model, points, points.sigma_amps)
    low = [0.7 * points.top_amps, 0.2 * points.flowing_rpm, model.shape_bounds[0]]
    high = [3.0 * points.top_amps, points.flowing_rpm, model.shape_bounds[1]]

    def residuals(parameters: FloatArray) -> FloatArray:
        return bent(look(parameters.tolist())[0])

    found = least_squares(
        residuals,
        np.clip(start, low, high),
        bounds=(low, high),
        x_scale=[points.top_amps, points.flowing_rpm, model.shape_centre],
        ftol=1e-10,
        xtol=1e-10,
        gtol=1e-10,
    )
    parameters: FloatArray = found.x
    return parameters


@MODELS
@pytest.mark.parametrize("seed", range(SWEEPS))
def test_nothing_lower_is_found_from_the_same_starts(model: CurveModel, seed: int) -> None:
    points = weigh(random_curve(seed), common_gain=0.0)
    ours = cost(model, points, first_round(model, points))
    theirs = min(cost(model, points, by_scipy(model, points, s)) for s in starts(model, points))
    # In squares of sigma; beside a crease of the map both stop a little before the very bottom.
    assert ours <= theirs * 1.001 + 0.001


@MODELS
def test_the_parameters_are_scipys_to_a_thousandth_of_their_doubt(model: CurveModel) -> None:
    off = []
    for seed in range(SWEEPS):
        points = weigh(random_curve(seed), common_gain=0.0)
        fit = fit_once(
            model,
            points,
            sigma=points.sigma_amps,
            starts=starts(model, points),
            softness=SOFTNESS,
        )
        doubt = np.sqrt(np.diag(fit.covariance))
        theirs = by_scipy(model, points, fit.parameters)
        off.append(float(np.max(np.abs(fit.parameters - theirs) / doubt)))
    assert np.median(off) <= 1e-3
    assert np.quantile(off, 0.95) <= 0.05


@settings(max_examples=100, deadline=None, derandomize=True, phases=[Phase.generate])
@given(seed=st.integers(SWEEPS, 10**6), model=st.sampled_from([BRIDGE_MAP, HYPERBOLA]))
def test_scipy_finds_no_way_on_from_where_the_fit_ends(seed: int, model: CurveModel) -> None:
    points = weigh(random_curve(seed), common_gain=0.0)
    # With fewer points than parameters and limits above them, many curves are as good as one.
    assume(points.degrees_of_freedom >= 1)
    ours = first_round(model, points)
    there = cost(model, points, by_scipy(model, points, ours))
    assert cost(model, points, ours) <= there * 1.001 + 0.01


@MODELS
@pytest.mark.parametrize("table", TABLES, ids=[table.name for table in TABLES])
def test_both_ways_down_agree_on_printed_tables(
    model: CurveModel, table: PublishedTable, monkeypatch: pytest.MonkeyPatch
) -> None:
    points = weigh(table.points(), common_gain=0.0)
    quick = fit_model(model, points)
    asked_slowly = _counted(monkeypatch)
    monkeypatch.setattr(one_model, "descend", lambda *_, **__: None)
    slow = fit_model(model, points)
    assert asked_slowly
    asked = np.array(table.rpm, float)
    assert quick.amps(asked) == pytest.approx(slow.amps(asked), abs=0.002 * table.top_amps)
    assert quick.u_amps(asked) == pytest.approx(slow.u_amps(asked), rel=0.05, abs=1e-3)


def _counted(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """Every call of the slower solver."""
    calls: list[object] = []

    def counting(*given: Any, **named: Any) -> Minimum:
        calls.append(given)
        return lowest_minimum(*given, **named)

    monkeypatch.setattr(one_model, "lowest_minimum", counting)
    return calls


def test_a_common_sweep_needs_no_slower_solver(monkeypatch: pytest.MonkeyPatch) -> None:
    asked_slowly = _counted(monkeypatch)
    for seed in range(SWEEPS):
        for model in (BRIDGE_MAP, HYPERBOLA):
            fit_model(model, weigh(random_curve(seed), common_gain=0.0))
    assert len(asked_slowly) <= 0.05 * 2 * SWEEPS


def test_where_the_quick_way_gives_up_the_slower_solver_is_asked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Two points and a limit leave a long bent valley, in which the quick way loses patience.
    asked_slowly = _counted(monkeypatch)
    rows = ((1427, 16.5), (2089, 42.8), (3058, 47.2), (4477, 47.2), (6554, 47.2))
    points = weigh([CurvePoint(rpm, amps, u_amps=0.03) for rpm, amps in rows], common_gain=0.0)
    assert points.plateau
    ours = first_round(HYPERBOLA, points)
    assert len(asked_slowly) == 1
    theirs = min(
        cost(HYPERBOLA, points, by_scipy(HYPERBOLA, points, start))
        for start in starts(HYPERBOLA, points)
    )
    assert cost(HYPERBOLA, points, ours) <= theirs * 1.001 + 0.01
