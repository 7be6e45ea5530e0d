"""The limit a unit must meet at each speed, from the acceptance rule."""

from __future__ import annotations

import math
from collections.abc import Iterator

from profiles.errors import BenchError
from profiles.rule import Accept

DECIMALS = 9
"""Limits are rounded to a billionth of an ampere, so that 90 % of 63.8 A is 57.42 A exactly."""


class NoLimit(BenchError):
    """An acceptance rule that gives no usable limit."""


def limit_at(rated_amps: float, accept: Accept) -> float:
    """Give the least current still accepted where `rated_amps` is rated [A].

    Of several keys the strictest counts, that is the highest limit.

    Raises:
        NoLimit: The rule states no limit, or one that is not a number.
    """
    limits = [limit for _, limit in _limits(rated_amps, accept)]
    if not limits:
        raise NoLimit(
            "The acceptance rule states no limit.",
            what_to_do="Give below_percent, below_amps, at_least_percent, or on_or_above = true.",
        )
    strictest = round(max(limits), DECIMALS)
    if not all(map(math.isfinite, limits)):
        raise NoLimit(
            f"The acceptance rule gives no number where {rated_amps} A is rated.",
            what_to_do="Check the figures of the rule and of the rated curve.",
        )
    return strictest


def acceptance_words(accept: Accept) -> str:
    """Say the rule in plain words, as in `at most 10 % below rated`."""
    words = " and ".join(text for text, _ in _limits(0.0, accept))
    several = ", whichever is stricter" if " and " in words else ""
    return f"{words}{several}" if words else "no limit stated"


def _limits(rated_amps: float, accept: Accept) -> Iterator[tuple[str, float]]:
    if accept.below_percent is not None:
        limit = rated_amps * (100.0 - accept.below_percent) / 100.0
        yield f"at most {accept.below_percent:g} % below rated", limit
    if accept.below_amps is not None:
        yield f"at most {accept.below_amps:g} A below rated", rated_amps - accept.below_amps
    if accept.at_least_percent is not None:
        limit = rated_amps * accept.at_least_percent / 100.0
        yield f"at least {accept.at_least_percent:g} % of rated", limit
    if accept.on_or_above:
        yield "on or above rated", rated_amps
