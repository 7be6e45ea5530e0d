"""Student's t without scipy: cached quantiles for the tests that run at every look."""

from __future__ import annotations

import math
from functools import lru_cache


def student_cdf(t: float, dof: int) -> float:
    """Probability that Student's t with `dof` degrees of freedom is below `t`.

    Finite series for whole degrees of freedom: Abramowitz and Stegun (1964), 26.7.3 and 26.7.4.
    """
    if dof > 200:
        return 0.5 * math.erfc(-t / math.sqrt(2.0))
    angle = math.atan(t / math.sqrt(dof))
    cos2 = math.cos(angle) ** 2
    if dof % 2:
        term, total = math.cos(angle), 0.0
        for k in range(3, dof + 1, 2):
            total += term
            term *= cos2 * (k - 1) / k
        inside = 2.0 / math.pi * (angle + math.sin(angle) * total)
    else:
        term, total = 1.0, 0.0
        for k in range(2, dof + 1, 2):
            total += term
            term *= cos2 * (k - 1) / k
        inside = math.sin(angle) * total
    return 0.5 + 0.5 * inside


@lru_cache(maxsize=512)
def student_quantile(p: float, dof: int) -> float:
    """The t that Student's t with `dof` degrees of freedom stays below with probability `p`."""
    low, high = -1.0, 1.0
    while student_cdf(low, dof) > p:
        low *= 2.0
    while student_cdf(high, dof) < p:
        high *= 2.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        if student_cdf(middle, dof) < p:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
