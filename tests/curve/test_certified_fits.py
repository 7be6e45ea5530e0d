"""The solver on certified problems: NIST Standard Reference Database 140 (StRD), nonlinear."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from acquire.curve.fitter import lowest_minimum
from acquire.curve.model import FloatArray


@dataclass(frozen=True)
class Certified:
    """y = b1 (1 - exp(-b2 x)): data, starts, certified values."""

    x: tuple[float, ...]
    y: tuple[float, ...]
    starts: tuple[tuple[float, float], ...]
    values: tuple[float, float]
    sd: tuple[float, float]
    sum_of_squares: float

    def residuals(self, b: FloatArray) -> FloatArray:
        with np.errstate(over="ignore"):
            fitted = b[0] * (1 - np.exp(-b[1] * np.array(self.x)))
        misses: FloatArray = fitted - np.array(self.y)
        # Beyond all sense is infinite: the solver steps back from what is not finite.
        return np.where(np.abs(misses) < 1e100, misses, np.inf)


# NIST StRD, Misra1a (lower difficulty), https://www.itl.nist.gov/div898/strd/nls/data/misra1a.shtml
MISRA1A = Certified(
    x=(
        *(77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8),
        *(378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0),
    ),
    y=(
        *(10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02),
        *(44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78),
    ),
    starts=((500.0, 0.0001), (250.0, 0.0005)),
    values=(2.3894212918e02, 5.5015643181e-04),
    sd=(2.7070075241e00, 7.2668688436e-06),
    sum_of_squares=1.2455138894e-01,
)
# NIST StRD, BoxBOD (higher difficulty), https://www.itl.nist.gov/div898/strd/nls/data/boxbod.shtml
# Data, starts and certified values compared with the file BoxBOD.dat that comes with lmfit's
# source distribution.
BOXBOD = Certified(
    x=(1, 2, 3, 5, 7, 10),
    y=(109, 149, 149, 191, 213, 224),
    starts=((1.0, 1.0), (100.0, 0.75)),
    values=(2.1380940889e02, 5.4723748542e-01),
    sd=(1.2354515176e01, 1.0455993237e-01),
    sum_of_squares=1.1680088766e03,
)
PROBLEMS = [pytest.param(MISRA1A, id="Misra1a"), pytest.param(BOXBOD, id="BoxBOD")]


def digits(found: float, certified: float) -> float:
    """Number of agreeing digits (log relative error)."""
    return -math.log10(max(abs(found - certified) / abs(certified), 1e-16))


@pytest.mark.parametrize("problem", PROBLEMS)
def test_certified_values_are_met_to_six_digits(problem: Certified) -> None:
    starts = [np.array(start) for start in problem.starts]
    found = lowest_minimum(problem.residuals, starts, tolerance=1e-15)
    degrees = len(problem.x) - 2
    variance = float(found.residuals @ found.residuals) / degrees
    sd = np.sqrt(np.diag(found.covariance()) * variance)
    for value, certified in zip(found.parameters, problem.values, strict=True):
        assert digits(value, certified) >= 6
    for value, certified in zip(sd, problem.sd, strict=True):
        assert digits(value, certified) >= 4
    assert digits(variance * degrees, problem.sum_of_squares) >= 8


def test_several_starts_find_the_lowest_minimum_where_one_alone_goes_astray() -> None:
    # From b = (1, 100) the curve is flat in b2 and the solver rests at a wrong minimum.
    astray = lowest_minimum(BOXBOD.residuals, [np.array([1.0, 100.0])])
    assert digits(astray.parameters[1], BOXBOD.values[1]) < 1
    both = [np.array([1.0, 100.0]), np.array(BOXBOD.starts[1])]
    found = lowest_minimum(BOXBOD.residuals, both)
    assert digits(found.parameters[1], BOXBOD.values[1]) >= 6


def test_no_start_is_an_error() -> None:
    with pytest.raises(ValueError, match="start"):
        lowest_minimum(BOXBOD.residuals, [])


def test_a_wild_point_pulls_less_under_the_robust_loss() -> None:
    x = np.linspace(0, 9, 10)
    y = 2 * x + 1
    y[4] += 50

    def residuals(b: FloatArray) -> FloatArray:
        line: FloatArray = b[0] * x + b[1] - y
        return line

    start = [np.array([0.0, 0.0])]
    plain = lowest_minimum(residuals, start).parameters
    robust = lowest_minimum(residuals, start, robust=10).parameters
    assert abs(plain[1] - 1) > 4
    assert robust == pytest.approx([2, 1], abs=0.5)
