"""The quick way down ends where other solvers end, or says that it does not know."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from scipy.optimize import rosen

from acquire.curve.descent import Look, descend
from acquire.curve.model import FloatArray
from acquire.curve.normal_equations import Three
from tests.curve.test_certified_fits import BOXBOD, MISRA1A, Certified, digits

LOW, HIGH = (-10.0, -10.0, -10.0), (10.0, 10.0, 10.0)
START = (-1.2, 1.0, 3.0)


def rosenbrock(x: Sequence[float]) -> tuple[FloatArray, FloatArray]:
    """H. Rosenbrock's valley (1960) as residuals; the minimum is (1, 1), the third is idle."""
    residuals = np.array([10 * (x[1] - x[0] ** 2), 1 - x[0]])
    return residuals, np.array([[-20 * x[0], -1.0], [10.0, 0.0], [0.0, 0.0]])


def down(look: Look, start: Sequence[float] = START, high: Sequence[float] = HIGH) -> Three | None:
    count = len(look(start)[0])
    return descend(look, start, bounds=(LOW, high), bend=np.zeros(count))


def test_the_bent_valley_is_walked_to_its_end() -> None:
    residuals = rosenbrock(START)[0]
    assert float(rosen(np.array(START[:2]))) == pytest.approx(float(residuals @ residuals))
    assert down(rosenbrock) == pytest.approx([1.0, 1.0, 3.0], abs=1e-6)


def test_a_bound_in_the_way_is_kept() -> None:
    assert down(rosenbrock, high=(0.5, 10.0, 10.0)) == pytest.approx([0.5, 0.25, 3.0], abs=1e-6)


def test_a_start_outside_the_bounds_is_brought_inside() -> None:
    assert down(rosenbrock, (-20.0, 40.0, 3.0)) == pytest.approx([1.0, 1.0, 3.0], abs=1e-6)


def test_a_slope_that_lies_to_its_caller_is_given_up() -> None:
    def wrong(x: Sequence[float]) -> tuple[FloatArray, FloatArray]:
        residuals, rows = rosenbrock(x)
        return residuals, -rows

    assert down(wrong) is None


@pytest.mark.parametrize("nonsense", [np.nan, np.inf])
def test_residuals_that_are_no_numbers_end_the_search_instead_of_the_program(
    nonsense: float,
) -> None:
    def blind(x: Sequence[float]) -> tuple[FloatArray, FloatArray]:
        return np.array([nonsense, 1.0]), np.full((3, 2), np.nan)

    with np.errstate(invalid="ignore"):
        assert down(blind) is None


def test_a_wild_point_pulls_less_under_the_soft_loss() -> None:
    x = np.linspace(0, 9, 10)
    y = 2 * x + 1
    y[4] += 50

    def line(b: Sequence[float]) -> tuple[FloatArray, FloatArray]:
        return b[0] * x + b[1] - y, np.stack([x, np.ones(10), np.zeros(10)])

    plain = down(line, (0.0, 0.0, 0.0))
    soft = descend(line, (0.0, 0.0, 0.0), bounds=(LOW, HIGH), bend=np.full(10, 1 / 1.5))
    assert plain is not None
    assert np.polyfit(x, y, 1) == pytest.approx(plain[:2], abs=1e-6)
    assert soft == pytest.approx([2.0, 1.0, 0.0], abs=0.5)


@pytest.mark.parametrize("start", [0, 1])
@pytest.mark.parametrize("problem", [MISRA1A, BOXBOD], ids=["Misra1a", "BoxBOD"])
def test_certified_values_are_met_far_within_their_doubt_or_nothing_is_said(
    problem: Certified, start: int
) -> None:
    # NIST StRD, nonlinear regression; both starts as NIST gives them. The second is "near".
    x = np.array(problem.x)

    def look(b: Sequence[float]) -> tuple[FloatArray, FloatArray]:
        decay = np.exp(-b[1] * x)
        rows = np.stack([1 - decay, b[0] * x * decay, np.zeros(len(x))])
        return b[0] * (1 - decay) - np.array(problem.y), rows

    bounds = ((0.0, 1e-6, 0.0), (1e4, 100.0, 1.0))
    begin = (*problem.starts[start], 0.5)
    found = descend(look, begin, bounds=bounds, bend=np.zeros(len(x)))
    if problem is BOXBOD and start == 0 and found is None:
        return  # The far start of the harder problem may be given up, but never be wrong.
    assert found is not None
    for value, certified, sd in zip(found, problem.values, problem.sd, strict=False):
        assert abs(value - certified) <= 3e-5 * sd
        assert digits(value, certified) >= 5
    residuals = look(found)[0]
    assert digits(float(residuals @ residuals), problem.sum_of_squares) >= 8
