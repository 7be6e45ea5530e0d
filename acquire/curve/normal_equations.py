"""The normal equations of a curve of three parameters, solved in plain numbers.

Written out they cost less than the one call of a library that would solve them (the square-root
free Cholesky factor: G. Golub, C. Van Loan, "Matrix Computations", section 4.1).
"""

from __future__ import annotations

from collections.abc import Sequence

Three = tuple[float, float, float]
Matrix = Sequence[Sequence[float]]
_SINGULAR = 1e-14
"""A pivot below this share of its diagonal says nothing of its parameter."""
_SLIGHT = 1e-3
"""A curvature left out below this share of that known is not worth its noise."""


def damped_step(information: Matrix, downhill: Sequence[float], damping: float) -> Three:
    """x of (J'J + damping diag(J'J)) x = downhill; `information` is J'J (3, 3).

    Where it is not positive, each parameter moves as if it were alone, and not at all where
    nothing is known of it.
    """
    (a, b, c), (_, d, e), (_, _, f) = information
    more = 1.0 + damping
    found = solved(((more * a, b, c), (b, more * d, e), (c, e, more * f)), downhill)
    if found is not None:
        return found
    x, y, z = (
        pull / (more * size) if size > 0.0 else 0.0
        for size, pull in zip((a, d, f), downhill, strict=True)
    )
    return x, y, z


def solved(matrix: Matrix, right: Sequence[float]) -> Three | None:
    """x of matrix x = right, the matrix symmetric (3, 3); None where it is not positive."""
    (a, b, c), (_, d, e), (_, _, f) = matrix
    p, q, r = right
    if not a > 0.0:
        return None
    b_share, c_share = b / a, c / a
    d_left, e_left = d - b_share * b, e - b_share * c
    if not d_left > _SINGULAR * d:
        return None
    e_share = e_left / d_left
    f_left = f - c_share * c - e_share * e_left
    if not f_left > _SINGULAR * f:
        return None
    q -= b_share * p
    z = (r - c_share * p - e_share * q) / f_left
    y = q / d_left - e_share * z
    return p / a - b_share * y - c_share * z, y, z


def inverted(matrix: Matrix) -> tuple[Three, Three, Three] | None:
    """The inverse of a symmetric matrix (3, 3); None where it is not positive."""
    x = solved(matrix, (1.0, 0.0, 0.0))
    y = solved(matrix, (0.0, 1.0, 0.0))
    z = solved(matrix, (0.0, 0.0, 1.0))
    if x is None or y is None or z is None:
        return None
    return x, (x[1], y[1], y[2]), (x[2], y[2], z[2])


def curved(information: Matrix, moved: Sequence[float], turned: Sequence[float]) -> Matrix:
    """J'J with the curvature it leaves out, as far as the last step has shown it.

    `moved` is that step, `turned` by how much the way down has changed along it. J'J alone knows
    nothing of residuals that bend (J. Dennis, D. Gay, R. Welsch, "An adaptive nonlinear
    least-squares algorithm", ACM TOMS 7(3), 1981, learn it step by step); where they are large, a
    solver swings to and fro across the bottom. Only what adds to the curvature is taken.
    """
    x, y, z = moved
    known = [row[0] * x + row[1] * y + row[2] * z for row in information]
    left = [part - seen for part, seen in zip(turned, known, strict=True)]
    along = left[0] * x + left[1] * y + left[2] * z
    if not along > _SLIGHT * (known[0] * x + known[1] * y + known[2] * z):
        return information
    return [
        [part + a * b / along for part, b in zip(row, left, strict=True)]
        for row, a in zip(information, left, strict=True)
    ]


def held(
    information: Matrix, downhill: Sequence[float], idle: Sequence[bool]
) -> tuple[list[list[float]], list[float]]:
    """The same equations with the `idle` parameters held where they are."""
    matrix = [list(row) for row in information]
    for index in (place for place, still in enumerate(idle) if still):
        for other in range(3):
            matrix[index][other] = matrix[other][index] = 0.0
        matrix[index][index] = 1.0
    return matrix, [0.0 if still else part for still, part in zip(idle, downhill, strict=True)]
