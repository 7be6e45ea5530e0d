"""A number as somebody typed it."""

from __future__ import annotations

import math
import re

from profiles.plain_text import visible

_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)")


def typed_number(text: str) -> float | str:
    """The number typed, or a sentence that says what is wrong with it.

    Plain decimal digits and a point alone: no exponent, no `nan`, no other script's digits.
    """
    if _NUMBER.fullmatch(text):
        value = float(text)
        return value if math.isfinite(value) else f"'{text[:40]}…' has too many digits."
    with_point = text.replace(",", ".", 1)
    if len(text) < 40 and _NUMBER.fullmatch(with_point):
        return f"'{text}': write decimals with a point, as in {with_point}."
    return f"'{visible(text[:40])}' is not a number. Type the figure alone, as in 45.2."
