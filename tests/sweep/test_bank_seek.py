"""The search for the setting of a bank: few switchings, and never the last step open."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.settle.looks import ChannelLook, HoldLook
from acquire.sweep.bank_between import interpolated, nearest_alone, nearest_pair
from acquire.sweep.bank_seek import SWITCHINGS_AT_MOST, BankSeek, Tried
from acquire.sweep.bank_settings import amps_of_settings

FINE = amps_of_settings((1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0))
TEST_VOLTS, REGULATED, BATTERY = 13.5, 14.3, 4.0


def seen(amps: tuple[float, ...], setting: int, most: float) -> Tried:
    """A unit that can give `most` [A] and regulates; a battery takes some at the test voltage."""
    load = amps[setting]
    spare = most - load
    if spare > 12.0:
        return Tried(setting, REGULATED, load * REGULATED / TEST_VOLTS + 12.0)
    return Tried(setting, TEST_VOLTS + 0.1 * (spare - BATTERY), most)


def sought(amps: tuple[float, ...], most: float, begin: float | None) -> list[int]:
    seek = BankSeek(amps, test_volts=TEST_VOLTS, battery_amps=BATTERY)
    at = seek.first(begin)
    tried = [at]
    while (onward := seek.after(seen(amps, at, most))) is not None:
        at = onward
        tried.append(at)
        assert len(tried) <= SWITCHINGS_AT_MOST
    return tried


@pytest.mark.parametrize("most", [12.0, 30.0, 62.0, 90.0, 118.0])
@pytest.mark.parametrize("begin", [None, 20.0, 90.0])
def test_a_bank_of_127_amperes_in_single_ones_is_set_in_a_handful_of_switchings(
    most: float, begin: float | None
) -> None:
    tried = sought(FINE, most, begin)
    assert FINE[tried[-1]] == pytest.approx(most - BATTERY, rel=0.05, abs=1.0)
    assert len(tried) <= 7


@settings(max_examples=200, deadline=None)
@given(
    bank=st.lists(st.sampled_from([1.0, 2.5, 5.0, 10.0, 20.0, 40.0]), min_size=1, max_size=8),
    given_amps=st.lists(st.floats(0.0, 300.0), min_size=1, max_size=40),
    volts=st.lists(st.floats(5.0, 20.0), min_size=1, max_size=40),
    begin=st.none() | st.floats(0.0, 300.0),
)
def test_whatever_is_read_the_last_step_stays_closed_and_the_search_ends(
    bank: list[float], given_amps: list[float], volts: list[float], begin: float | None
) -> None:
    amps = amps_of_settings(tuple(bank))
    seek = BankSeek(amps, test_volts=TEST_VOLTS)
    at: int | None = seek.first(begin)
    readings = itertools.cycle(zip(given_amps, volts, strict=False))
    tried: list[int] = []
    while at is not None and len(tried) < 1000:
        assert 1 <= at < len(amps)
        tried.append(at)
        unit_amps, at_volts = next(readings)
        across = seek.across(Tried(at, at_volts, unit_amps))
        assert across is None or (1 <= across < len(amps) and across != at)
        at = seek.after(Tried(at, at_volts, unit_amps))
    assert len(set(tried)) == len(tried), "none is tried twice in one search"


def look(volts: float, amps: float) -> HoldLook:
    def channel(mean: float, u: float) -> ChannelLook:
        return ChannelLook(
            state="still", drift=0.0, half_width=0.05, tolerance=0.1, mean=mean, u=u, dof=20.0,
            window_s=10.0, readings=50, rejected=0, unsteady=False,
        )  # fmt: skip

    channels = {"volts": channel(volts, 0.01), "amps": channel(amps, 0.1)}
    return HoldLook(t_s=1.0, channels=channels, taken="yes", about_s=None, waiting_for="")


def test_two_settings_on_one_side_are_never_drawn_out_to_the_test_voltage() -> None:
    assert nearest_pair([look(13.9, 60.0), look(13.88, 80.0)], TEST_VOLTS) is None
    assert nearest_alone([look(14.2, 60.0), look(13.9, 80.0)], TEST_VOLTS) == look(13.9, 80.0)
    with pytest.raises(ValueError, match="not between"):
        interpolated(look(13.9, 60.0), look(13.88, 80.0), TEST_VOLTS)


def test_the_doubt_of_a_point_between_reaches_to_the_current_of_the_side_that_gives_more() -> None:
    """Between a setting at which the unit regulates and one at which it gives all."""
    regulating, full = look(14.3, 45.0), look(12.5, 71.0)
    point = interpolated(regulating, full, TEST_VOLTS).channels["amps"]
    assert point.mean == pytest.approx(45.0 + 26.0 * 0.8 / 1.8)
    assert abs(71.0 - point.mean) < 2 * point.u, "the unit may give 71 A at the test voltage"
    near = interpolated(look(13.6, 70.6), look(13.3, 71.0), TEST_VOLTS).channels["amps"]
    assert near.u < 0.3
