"""Which settings of a switched bank are tried."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.sweep.bank_settings import settings_of


def tried_one_by_one(amps: tuple[float, ...]) -> dict[float, tuple[bool, ...]]:
    """Every current a bank can take, with the first of the settings with the fewest steps."""
    found: dict[float, tuple[bool, ...]] = {}
    for count in range(len(amps) + 1):
        for chosen in combinations(range(len(amps)), count):
            key = round(sum(amps[n] for n in chosen), 6)
            found.setdefault(key, tuple(n in chosen for n in range(len(amps))))
    return found


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from([2.5, 5.0, 10.0, 10.3, 19.97, 20.0, 40.0]), max_size=8))
def test_each_current_stands_once_by_rising_current_with_the_fewest_steps(
    steps: list[float],
) -> None:
    amps = tuple(steps)
    wanted = tried_one_by_one(amps)
    assert settings_of(amps) == tuple(wanted[key] for key in sorted(wanted))


@pytest.mark.parametrize("count", [30, 64])
def test_the_largest_bank_a_rig_file_may_name_is_worked_out_at_once(count: int) -> None:
    found = settings_of((5.0, 10.0, 20.0, *[20.0] * (count - 3)))
    assert len(found) == 1 + (5 + 10 + 20 * (count - 2)) // 5, "every 5 A from none to all"
    assert not any(found[0])
    assert all(found[-1])
