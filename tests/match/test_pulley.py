"""Pulley arithmetic against ratios printed in manuals."""

from __future__ import annotations

import pytest

from acquire.match.belt import belt_words, shaft_kw
from acquire.match.pulley import BeltDrive, ratio_from_outside
from profiles.errors import BenchError


def drive(ratio: float) -> BeltDrive:
    return BeltDrive(ratio, slip_percent=0.0)


@pytest.mark.parametrize(
    ("engine_rpm", "shaft_rpm"), [(690, 1500), (1375, 3000), (2750, 6000), (3670, 8000)]
)
def test_a_car_manual_prints_engine_and_shaft_speeds(engine_rpm: float, shaft_rpm: float) -> None:
    # Citroen CX repair manual, operation MA 530.0: 2.174, 2.182, 2.182, 2.180.
    assert drive(2.18).shaft_rpm(engine_rpm) == pytest.approx(shaft_rpm, rel=0.005)


def test_a_yacht_owners_pulleys_give_the_printed_ratio() -> None:
    # 4.75 in on 2.2 in, printed 2.16 (sltf.com, "Electrical").
    found = BeltDrive.from_pulleys(engine_mm=4.75 * 25.4, alternator_mm=2.2 * 25.4)
    assert round(found.ratio, 2) == 2.16


@pytest.mark.parametrize(("shaft_rpm", "engine_rpm"), [(1800, 664), (6000, 2214)])
def test_a_truck_manual_prints_the_ratio(shaft_rpm: float, engine_rpm: float) -> None:
    # Ford F-550 electrical specifications: 2.71 : 1.
    assert drive(2.71).ratio_for(shaft_rpm=shaft_rpm, engine_rpm=engine_rpm) == pytest.approx(
        2.71, abs=0.005
    )
    assert drive(2.71).shaft_rpm(engine_rpm) == pytest.approx(shaft_rpm, rel=0.002)


def test_two_to_one_at_1200_is_2400() -> None:
    # "Alternator specifications", glasswolf.net: ratio 2:1 at 1200 engine rpm is 2400.
    assert drive(2.0).shaft_rpm(1200) == 2400


def test_slip_takes_its_share_of_the_shaft_speed_not_of_the_ratio() -> None:
    found = BeltDrive.from_pulleys(engine_mm=180, alternator_mm=60, slip_percent=2)
    assert found.ratio == 3.0
    assert found.shaft_rpm(1000) == pytest.approx(2940)
    assert found.ratio_for(shaft_rpm=2940, engine_rpm=1000) == pytest.approx(3.0)
    assert BeltDrive(3.0).shaft_rpm(1000) == pytest.approx(2970)


@pytest.mark.parametrize(
    ("engine_in", "alternator_in", "true_ratio", "percent"),
    [(6.0, 2.5, 2.556, 6.5), (4.75, 2.2, 2.308, 6.9)],
)
def test_outside_diameters_are_six_to_seven_percent_off(
    engine_in: float, alternator_in: float, true_ratio: float, percent: float
) -> None:
    # A section: outside less datum diameter 0.250 in (Design manual for power transmission belts).
    found = ratio_from_outside(engine_in * 25.4, alternator_in * 25.4)
    assert found is not None
    assert found == pytest.approx(true_ratio, abs=0.001)
    assert 100 * (found / (engine_in / alternator_in) - 1) == pytest.approx(percent, abs=0.06)
    words = BeltDrive.from_pulleys(
        engine_mm=engine_in * 25.4, alternator_mm=alternator_in * 25.4
    ).diameter_warning()
    assert f"{true_ratio:.2f}" in words
    assert BeltDrive(2.0).diameter_warning() == ""


def test_power_at_the_shaft_follows_the_published_efficiency() -> None:
    # 55 %: M. Bradfield, "High Efficiency Generators"; 100 A at 14 V are 2.55 kW or 3.4 hp.
    assert shaft_kw(amps=100, volts=14) == pytest.approx(2.55, abs=0.005)
    assert shaft_kw(amps=100, volts=14) / 0.7457 == pytest.approx(3.4, abs=0.05)


@pytest.mark.parametrize(
    ("amps", "volts", "words"),
    [(65, 14, "3/8 in"), (90, 14, "1/2 in"), (110, 14, "multi-groove"), (40, 28, "multi-groove")],
)
def test_the_belt_follows_the_current(amps: float, volts: float, words: str) -> None:
    # Balmar 60 series manual, belts.
    assert words in belt_words(amps=amps, volts=volts)


@pytest.mark.parametrize(("ratio", "slip"), [(0, 1), (-2, 1), (float("nan"), 1), (2, -1), (2, 60)])
def test_what_is_no_drive_is_refused(ratio: float, slip: float) -> None:
    with pytest.raises(BenchError):
        BeltDrive(ratio, slip)
    with pytest.raises(BenchError):
        BeltDrive.from_pulleys(engine_mm=0, alternator_mm=60)
