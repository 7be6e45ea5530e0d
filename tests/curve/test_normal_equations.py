"""Three equations in plain numbers against the linear algebra of numpy (LAPACK)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.curve.normal_equations import curved, damped_step, held, inverted, solved

Rows = list[list[float]]
parts = st.floats(-5, 5, allow_nan=False)
rows = st.lists(st.lists(parts, min_size=3, max_size=3), min_size=5, max_size=5)
three = st.lists(parts, min_size=3, max_size=3)


@given(rows=rows, right=three, damping=st.floats(1e-9, 1e3))
def test_the_step_solves_the_damped_equations(
    rows: Rows, right: list[float], damping: float
) -> None:
    # A little of the unit matrix keeps every case well enough posed to be compared.
    information = np.array(rows).T @ np.array(rows) + 0.01 * np.eye(3)
    damped = information + damping * np.diag(np.diag(information))
    step = damped_step(information.tolist(), right, damping)
    assert step == pytest.approx(np.linalg.solve(damped, right), rel=1e-6, abs=1e-7)


@given(rows=rows)
def test_the_inverse_is_that_of_numpy_and_symmetric(rows: Rows) -> None:
    information = np.array(rows).T @ np.array(rows) + 0.01 * np.eye(3)
    found = inverted(information.tolist())
    assert found is not None
    assert np.array(found) == pytest.approx(np.linalg.inv(information), rel=1e-6, abs=1e-7)
    assert np.array_equal(np.array(found), np.array(found).T)


@pytest.mark.parametrize(
    "matrix",
    [
        [[0.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
        [[1.0, 2.0, 0.0], [2.0, 4.0, 0.0], [0.0, 0.0, 1.0]],
        [[1.0, 0.0, 1.0], [0.0, 1.0, 1.0], [1.0, 1.0, 2.0]],
        [[1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, 1.0]],
        [[float("nan"), 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
    ],
    ids=["nothing of the first", "second as first", "third as both", "negative", "no number"],
)
def test_equations_without_one_answer_have_none(matrix: Rows) -> None:
    assert solved(matrix, [1.0, 1.0, 1.0]) is None
    assert inverted(matrix) is None


def test_where_there_is_no_one_answer_each_parameter_steps_alone() -> None:
    singular = [[0.0, 0.0, 0.0], [0.0, 4.0, 2.0], [0.0, 2.0, 1.0]]
    assert damped_step(singular, [1.0, 8.0, 3.0], 1.0) == (0.0, 1.0, 1.5)


def test_a_parameter_that_is_held_stays_and_leaves_the_others_their_own_equations() -> None:
    information = [[4.0, 1.0, 2.0], [1.0, 5.0, 1.0], [2.0, 1.0, 6.0]]
    step = damped_step(*held(information, [1.0, 2.0, 3.0], [False, True, False]), 0.0)
    x, z = np.linalg.solve([[4.0, 2.0], [2.0, 6.0]], [1.0, 3.0])
    assert step == pytest.approx([x, 0.0, z])


@given(rows=rows, moved=three, more=st.floats(0.01, 10))
def test_along_the_last_step_the_curvature_is_the_one_that_was_seen(
    rows: Rows, moved: list[float], more: float
) -> None:
    information = np.array(rows).T @ np.array(rows) + 0.01 * np.eye(3)
    # A true curvature that is larger than J'J shows itself in how the way down has turned.
    turned = (information + more * np.eye(3)) @ np.array(moved)
    found = np.array(curved(information.tolist(), moved, turned.tolist()))
    assert found @ np.array(moved) == pytest.approx(turned, rel=1e-6, abs=1e-9) or np.array_equal(
        found, information
    )
    assert np.linalg.eigvalsh(found).min() >= 0.99 * np.linalg.eigvalsh(information).min()
    if float(np.dot(moved, moved)) > 1e-6 and more > 0.1 * np.linalg.eigvalsh(information).max():
        assert not np.array_equal(found, information)


def test_a_smaller_curvature_than_the_known_one_is_not_taken() -> None:
    information = [[4.0, 1.0, 2.0], [1.0, 5.0, 1.0], [2.0, 1.0, 6.0]]
    assert curved(information, [1.0, 0.0, 0.0], [3.0, 1.0, 2.0]) == information
    assert curved(information, [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]) == information
