"""Adding up so that every Python gives the same last digit.

From Python 3.12 on the built-in `sum` of floats keeps track of what rounding loses; before, it
did not. A record made with the one would replay differently with the other, so whatever a replay
repeats adds up here.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import reduce
from operator import add


def plain_sum(values: Iterable[float]) -> float:
    """The sum from left to right, rounded at each step (IEEE 754)."""
    return reduce(add, values, 0.0)
