"""The quick way down ends where the trust-region solver ends, or says that it does not know."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import rosen

from acquire.curve import one_model
from acquire.curve.bridge_map import BRIDGE_MAP
from acquire.curve.descent import descend
from acquire.curve.hyperbola import HYPERBOLA
from acquire.curve.model import CurveModel, FloatArray
from acquire.curve.one_model import fit_model
from acquire.curve.weighing import weigh
from tests.curve.published_tables import TABLES, PublishedTable

WIDE = (np.array([-10.0, -10.0]), np.array([10.0, 10.0]))


def rosenbrock(x: FloatArray) -> FloatArray:
    """H. Rosenbrock's valley (1960) as residuals; the minimum is (1, 1)."""
    return np.array([10 * (x[1] - x[0] ** 2), 1 - x[0]])


def rosenbrock_rows(x: FloatArray) -> FloatArray:
    return np.array([[-20 * x[0], 10.0], [-1.0, 0.0]])


def test_the_bent_valley_is_walked_to_its_end() -> None:
    start = np.array([-1.2, 1.0])
    assert float(rosen(start)) == pytest.approx(float(np.sum(rosenbrock(start) ** 2)))
    found = descend(rosenbrock, rosenbrock_rows, start, bounds=WIDE, robust=0, softness=1.5)
    assert found == pytest.approx([1.0, 1.0], abs=1e-6)


def test_a_bound_in_the_way_is_kept() -> None:
    bounds = (WIDE[0], np.array([0.5, 10.0]))
    start = np.array([-1.2, 1.0])
    found = descend(rosenbrock, rosenbrock_rows, start, bounds=bounds, robust=0, softness=1.5)
    assert found == pytest.approx([0.5, 0.25], abs=1e-6)


def test_a_slope_that_lies_to_its_caller_is_given_up() -> None:
    def wrong(x: FloatArray) -> FloatArray:
        return -rosenbrock_rows(x)

    start = np.array([-1.2, 1.0])
    assert descend(rosenbrock, wrong, start, bounds=WIDE, robust=0, softness=1.5) is None


@pytest.mark.parametrize("model", [BRIDGE_MAP, HYPERBOLA], ids=lambda model: model.name)
@pytest.mark.parametrize("table", TABLES, ids=[table.name for table in TABLES])
def test_both_ways_down_agree_on_printed_tables(
    model: CurveModel, table: PublishedTable, monkeypatch: pytest.MonkeyPatch
) -> None:
    points = weigh(table.points(), common_gain=0.0)
    quick = fit_model(model, points)
    monkeypatch.setattr(one_model, "descend", lambda *_, **__: None)
    slow = fit_model(model, points)
    asked = np.array(table.rpm, float)
    assert quick.amps(asked) == pytest.approx(slow.amps(asked), abs=0.002 * table.top_amps)
