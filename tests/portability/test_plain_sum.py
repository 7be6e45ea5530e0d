"""A record replays to the last digit with every Python: no sum that newer ones round otherwise.

Source: Python 3.12, "What's New", built-ins: `sum` of floats uses Neumaier summation.
"""

from __future__ import annotations

import ast
import math

from hypothesis import given
from hypothesis import strategies as st

from acquire.plain_sum import plain_sum
from tests.portability.reach import ROOT

REPEATED = ("acquire/settle", "acquire/sweep", "acquire/points.py")
"""What a replay works out again."""
OF_WHOLE_NUMBERS = ("filled", "(b.count > 0")


def test_it_adds_from_left_to_right_and_rounds_at_each_step() -> None:
    assert plain_sum([0.1] * 10) == 0.9999999999999999
    assert plain_sum([1.0, 1e100, 1.0, -1e100]) == 0.0, "newer sums give 2"
    assert plain_sum([]) == 0.0


@given(st.lists(st.floats(-1e6, 1e6), max_size=50))
def test_it_is_the_sum_but_for_rounding(values: list[float]) -> None:
    bound = 1e-12 * math.fsum(abs(value) for value in values) + 1e-300
    assert abs(plain_sum(values) - math.fsum(values)) <= bound


def test_what_a_replay_repeats_uses_no_other_sum() -> None:
    found = []
    for place in REPEATED:
        path = ROOT / place
        for module in [path] if path.is_file() else sorted(path.rglob("*.py")):
            for part in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
                if isinstance(part, ast.Call) and ast.unparse(part.func) == "sum":
                    added = ast.unparse(part.args[0])
                    if not any(added.startswith(known) for known in OF_WHOLE_NUMBERS):
                        found.append(f"{module.name}:{part.lineno}: sum({added})")
    assert found == []
