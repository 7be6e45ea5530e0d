"""The bank of lag models against plain linear algebra, and what it foretells."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from scipy import stats

from acquire.settle import lag_bank
from acquire.settle.blocks import BLOCK_S, Block
from acquire.settle.lag_bank import PHI_PRIOR, Priors, Rows, fit
from acquire.settle.lore import TWO_LAGS_PRIOR, Lore
from acquire.settle.predict import Predictor, _within
from acquire.settle.prediction import CAUTIOUS, FAST, Form, Prediction


def lag_rows(n: int, gap: slice | None = None, seed: int = 1) -> tuple[Rows, Priors]:
    """Blocks of a lag of 3 s with a hunting speed, perhaps with a gap."""
    rng = np.random.default_rng(seed)
    places = np.arange(n)
    if gap is not None:
        places = np.delete(places, gap)
    from_now = (places + 0.5 - n) * BLOCK_S
    speed = 5.0 * np.sin(places / 3.0)
    values = -20.0 * np.exp(-places * BLOCK_S / 3.0) + 0.02 * speed
    values += rng.normal(0.0, 0.1, places.size)
    common = np.column_stack([np.ones(places.size), from_now / 10.0, speed])
    weights = 1.0 / np.sqrt(1.0 + np.exp(-places / 2.0))
    rows = Rows(places, values, common, weights, n)
    return rows, Priors(np.array([100.0, 0.3, 0.02]), 25.0, 3.0, 0.12, 0.03, PHI_PRIOR)


@dataclass
class Cell:
    """One cell solved the long way."""

    coefficients: npt.NDArray[np.floating[Any]]
    covariance: npt.NDArray[np.floating[Any]]
    log_evidence: float
    columns: list[int]


def solved_plainly(rows: Rows, priors: Priors, phi: float, fast: int, shape: int) -> Cell:
    """Whiten, stack the ridge as extra rows, least squares: the textbook way."""
    share, by = lag_bank.SHAPES[shape]
    lag = np.exp(-rows.places[:, None] * BLOCK_S / lag_bank.TAUS[None, [fast, fast + by]])
    curve = (1 - share) * lag[:, 0] + share * lag[:, 1]
    columns = [*rows.common.T, curve] + ([lag[:, 1]] if share else [])
    x = np.column_stack(columns) * rows.weights[:, None]
    y = rows.values * rows.weights
    n = y.size
    whitener = np.eye(n)
    lone = 0
    for i in range(n):
        if i and rows.places[i] - rows.places[i - 1] == 1:
            whitener[i, i - 1] = -phi
        else:
            whitener[i, i] = math.sqrt(1 - phi * phi)
            lone += 1
    x, y = whitener @ x, whitener @ y
    sds = np.array([*priors.common, priors.lag] + ([priors.second] if share else []))
    ridge = np.diag(priors.noise**2 / sds**2)
    inverse = np.linalg.inv(x.T @ x + ridge)
    coefficients = inverse @ x.T @ y
    squares = float(y @ y - coefficients @ x.T @ y) + lag_bank.PRIOR_DOF * priors.floor**2
    dof = n - 4 + lag_bank.PRIOR_DOF
    variance = max(squares / dof, priors.floor**2 * (1 - phi * phi))
    evidence = 0.5 * np.linalg.slogdet(inverse)[1] + 0.5 * np.linalg.slogdet(ridge)[1]
    evidence += 0.5 * lone * math.log(1 - phi * phi)
    evidence -= 0.5 * (n + lag_bank.PRIOR_DOF) * math.log(squares)
    evidence += math.log(priors.phi[list(lag_bank.PHIS).index(phi)])
    two = priors.two_lags / (len(lag_bank.SHAPES) - 1)
    evidence += math.log(two if share else 1.0 - priors.two_lags)
    evidence += float(stats.norm.logpdf(math.log(lag_bank.TAUS[fast]), math.log(2.5), 1.2))
    return Cell(coefficients, inverse * variance, float(evidence), [fast, fast + by])


@pytest.mark.parametrize("gap", [None, slice(12, 17)])
def test_every_cell_is_the_ridge_regression_it_stands_for(gap: slice | None) -> None:
    rows, priors = lag_rows(30, gap)
    mixture = fit(rows, priors)
    cells = [
        (phi, fast, shape)
        for phi in lag_bank.PHIS
        for shape in range(len(lag_bank.SHAPES))
        for fast in range(lag_bank.LAGS)
    ]
    plain = [solved_plainly(rows, priors, *cell) for cell in cells]
    evidence = np.array([c.log_evidence for c in plain])
    weight = np.exp(evidence - evidence.max())
    weight /= weight.sum()
    kept = [k for k in range(len(cells)) if weight[k] > lag_bank.NO_WEIGHT]
    assert len(kept) == mixture.weight.size
    assert mixture.weight == pytest.approx(weight[kept], rel=1e-3, abs=1e-6)
    final = [plain[k].coefficients[0] for k in kept]
    assert mixture.final == pytest.approx(final, rel=1e-7, abs=1e-8)
    sds = [math.sqrt(plain[k].covariance[0, 0]) for k in kept]
    assert mixture.final_sd == pytest.approx(sds, rel=1e-6)
    assert mixture.slope == pytest.approx([plain[k].coefficients[1] for k in kept], abs=1e-7)
    left = [left_of(plain[k], cells[k][2], rows.length) for k in kept]
    assert mixture.left == pytest.approx(left, rel=1e-6, abs=1e-9)


def left_of(cell: Cell, shape: int, length: int) -> float:
    """Lag still to come at the end of the window."""
    share, _ = lag_bank.SHAPES[shape]
    now = np.exp(-(length - 0.5) * BLOCK_S / lag_bank.TAUS[cell.columns])
    left = cell.coefficients[3] * ((1 - share) * now[0] + share * now[1])
    return float(left + (cell.coefficients[4] * now[1] if share else 0.0))


def test_the_probability_inside_limits_is_that_of_students_t() -> None:
    for dof in (9.0, 20.0, 40.0):
        for off in (0.0, 0.4, 1.0):
            exact = stats.t.cdf((1 - off) / 0.5, dof) - stats.t.cdf((-1 - off) / 0.5, dof)
            found = _within(1.0, np.array([off]), np.array([0.5]), np.array([1.0]), dof)
            assert found == pytest.approx(float(exact), abs=6e-3)


def predictions(
    amps: list[float],
    *,
    form: Form = CAUTIOUS,
    noise: float = 0.05,
    seed: int = 1,
    lore: Lore | None = None,
) -> list[Prediction]:
    """A look after each half-second mean of a current with 25 readings a block."""
    rng = np.random.default_rng(seed)
    predictor = Predictor(form, resolution=0.01, horizon_s=10.0, lore=lore)
    out = []
    for k, value in enumerate(amps):
        predictor.add(Block(k, 25, value + noise / 5 * rng.standard_normal(), noise), 0.0)
        found = predictor.look((k + 1) * BLOCK_S, 0.4)
        if found is not None:
            out.append(found)
    return out


def lag(seconds: float, *parts: tuple[float, float], level: float = 80.0) -> list[float]:
    """Half-second means of a current that lacks `parts` (size, lag) at first."""
    at = [(k + 0.5) * BLOCK_S for k in range(int(seconds / BLOCK_S))]
    return [level - sum(size * math.exp(-t / lag_s) for size, lag_s in parts) for t in at]


def ready(found: list[Prediction]) -> Prediction:
    return next(p for p in found if p.ready)


def test_a_lag_is_foretold_before_it_is_over() -> None:
    point = ready(predictions(lag(40.0, (30.0, 4.0))))
    assert point.t_s <= 21.0  # the drift itself is within tolerance at 17 s
    assert abs(point.value - 80.0) <= 2.0 * point.u
    assert abs(point.value - 80.0) <= 0.4
    assert point.lag_s == pytest.approx(4.0, rel=0.15)
    still_missing = 30.0 * math.exp(-point.t_s / 4.0)
    assert point.left == pytest.approx(-still_missing, rel=0.25, abs=0.05)


def test_the_fast_form_is_no_slower_than_the_cautious_one() -> None:
    amps = lag(60.0, (30.0, 4.0))
    assert ready(predictions(amps, form=FAST)).t_s <= ready(predictions(amps)).t_s


def test_a_second_slower_lag_makes_it_wait_and_stay_right() -> None:
    one = ready(predictions(lag(60.0, (30.0, 3.0)))).t_s
    point = ready(predictions(lag(60.0, (21.0, 3.0), (9.0, 12.0))))
    assert point.t_s > one + 5.0
    assert abs(point.value - 80.0) <= max(2.5 * point.u, 0.4)


def test_a_current_that_jumps_about_the_model_is_not_believed() -> None:
    amps = [v + (2.0 if (k // 9) % 2 else 0.0) for k, v in enumerate(lag(40.0, (30.0, 3.0)))]
    assert not any(p.ready for p in predictions(amps))


def test_warming_faster_than_allowed_is_told_and_does_not_spoil_the_value() -> None:
    amps = [v - 0.08 * k * BLOCK_S for k, v in enumerate(lag(40.0, (30.0, 3.0)))]
    found = predictions(amps)
    point = ready(found)
    assert abs(point.value - (80.0 - 0.08 * point.t_s)) <= 0.4
    later = [p for p in found if p.t_s >= 20.0]
    assert not any(p.in_a_row for p in later)
    assert later[-1].slope == pytest.approx(-0.8, abs=0.1)


def test_too_few_blocks_foretell_nothing_and_gaps_are_left_out() -> None:
    predictor = Predictor(CAUTIOUS, resolution=0.01, horizon_s=10.0)
    looks = []
    for k in range(14):
        predictor.add(Block(k, 0 if k % 2 else 5, 50.0, 0.01), 0.0)
        looks.append(predictor.look((k + 1) * BLOCK_S, 0.4))
    assert looks[9] is None
    assert looks[-1] is not None


def test_evidence_for_the_journal_is_finite() -> None:
    for found in predictions(lag(10.0, (30.0, 3.0))):
        assert all(math.isfinite(v) for v in found.evidence().values())


def test_what_one_step_found_is_believed_at_the_next_but_never_wholly() -> None:
    lore = Lore()
    lore.learn(0.001, 3.0, 0.1)
    assert lore.lag_s == 3.0
    assert 0.001 < lore.two_lags < TWO_LAGS_PRIOR
    lore.learn(0.999, 9.0, 0.8)
    assert lore.lag_s == 3.0
    assert TWO_LAGS_PRIOR < lore.two_lags < 0.999


def test_a_known_lag_counts_but_readings_that_say_otherwise_win() -> None:
    rows, priors = lag_rows(20)
    lags = []
    for known_s in (None, 3.0, 12.0):
        mixture = fit(rows, replace(priors, lag_s=known_s))
        lags.append(float(mixture.weight @ mixture.tau_s))
    assert lags[1] == pytest.approx(3.0, rel=0.05)
    assert lags[2] == pytest.approx(3.0, rel=0.15)


def test_a_machine_known_to_have_one_lag_is_foretold_sooner() -> None:
    amps = lag(60.0, (30.0, 4.0))
    lore = Lore()
    strange = ready(predictions(amps))
    lore.learn(strange.two_lags, strange.lag_s, strange.lag_spread)
    known = ready(predictions(amps, lore=lore, seed=2))
    assert known.t_s <= strange.t_s
    assert abs(known.value - 80.0) <= 0.4


def test_no_current_at_all_is_foretold_with_honest_doubt() -> None:
    """Below the cut-in speed: noise about zero, a floor for the tolerance."""
    off = []
    for seed in range(30):
        point = ready(predictions([0.0] * 100, noise=0.25, seed=seed))
        off.append(abs(point.value) / point.u)
        assert abs(point.value) <= 0.4
    assert sum(x > 2.0 for x in off) <= 4
