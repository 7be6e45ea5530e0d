"""The bridge map against the time domain, published formulas and a published machine."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from scipy.interpolate import PchipInterpolator

from drivers.simulated.bridge import DROP_OHM_PER_PHASE_OHM, bridge, monotone_cubic
from tests.simulated.time_domain import DIODE_ON_OHM, Direct, Open, Winding, direct_current

# Machine: Rivas et al. 2004, as transcribed in
# github.com/ufcg-gabrielrodrigues/automotive-ems (src/alternator/2004_rivas): star, 6 pole pairs,
# 37 mohm, 120 uH, 10.716 V RMS a phase at 180 Hz and 3.6 A of field current.
PHASE_OHM, PHASE_HENRY = 0.037, 120e-6
EMF_PER_HZ = 10.716 * math.sqrt(2.0) / 180.0
VOLTS, DIODE_VOLTS = 14.0, 1.0

BROKEN = {
    "healthy": Open(),
    "open-diode": Open(upper=frozenset({0})),
    "open-phase": Open(phases=frozenset({0})),
    "two-open-diodes": Open(upper=frozenset({0, 1})),
}


def integrated(condition: str, shaft_rpm: float) -> Direct:
    hz = 6.0 * shaft_rpm / 60.0
    winding = Winding(EMF_PER_HZ * hz, hz, PHASE_OHM, PHASE_HENRY)
    return direct_current(winding, volts=VOLTS, diode_volts=DIODE_VOLTS, broken=BROKEN[condition])


def mapped(condition: str, shaft_rpm: float) -> float:
    hz = 6.0 * shaft_rpm / 60.0
    return bridge(condition).amps(
        EMF_PER_HZ * hz,
        2.0 * math.pi * hz * PHASE_HENRY,
        VOLTS + 2.0 * DIODE_VOLTS,
        DROP_OHM_PER_PHASE_OHM * PHASE_OHM + 2.0 * DIODE_ON_OHM,
        0.0,
    )


@pytest.mark.parametrize("rpm", [1200, 1300, 1500, 1800, 2100, 2500, 3000, 4000, 6000, 8000])
def test_a_sound_bridge_gives_what_the_time_domain_gives(rpm: float) -> None:
    assert mapped("healthy", rpm) == pytest.approx(
        integrated("healthy", rpm).mean_amps, rel=0.02, abs=0.6
    )


@pytest.mark.parametrize("condition", ["open-diode", "open-phase", "two-open-diodes"])
@pytest.mark.parametrize("rpm", [1500, 1800, 3000, 6000])
def test_a_broken_bridge_gives_what_the_time_domain_gives(condition: str, rpm: float) -> None:
    assert mapped(condition, rpm) == pytest.approx(
        integrated(condition, rpm).mean_amps, rel=0.04, abs=2.1
    )


def test_an_open_diode_costs_a_third_at_low_speed_and_hides_at_high_speed() -> None:
    left = {rpm: mapped("open-diode", rpm) / mapped("healthy", rpm) for rpm in (1500, 3000, 6000)}
    assert 0.58 < left[1500] < 0.68
    assert 0.80 < left[3000] < 0.87
    assert left[6000] > 0.96


@pytest.mark.parametrize("rpm", [4000, 6000, 8000])
def test_far_above_cut_in_it_agrees_with_the_fundamental_frequency_formula(rpm: float) -> None:
    # Perreault and Caliskan (IEEE Trans. Power Electronics 19(3), 2004, 618-630), with the phase
    # resistance carried along
    hz = 6.0 * rpm / 60.0
    emf, ohm = EMF_PER_HZ * hz, PHASE_OHM + DIODE_ON_OHM
    reactance = 2.0 * math.pi * hz * PHASE_HENRY
    v1 = 2.0 / math.pi * (VOLTS + 2.0 * DIODE_VOLTS)
    impedance = ohm**2 + reactance**2
    root = math.sqrt((ohm * v1) ** 2 + impedance * (emf**2 - v1**2))
    amps = 3.0 / math.pi * (root - ohm * v1) / impedance
    assert mapped("healthy", rpm) == pytest.approx(amps, rel=0.025)


def test_nothing_flows_until_the_line_emf_exceeds_the_bus_and_two_diodes() -> None:
    reactance = 0.1
    just_below = (VOLTS + 2.0 * DIODE_VOLTS) / math.sqrt(3.0) * 0.9999
    assert (
        bridge("healthy").amps(just_below, reactance, VOLTS + 2.0 * DIODE_VOLTS, 0.05, 5.0) == 0.0
    )
    assert bridge("healthy").amps(just_below * 1.05, reactance, 16.0, 0.05, 0.0) > 0.0


@pytest.mark.parametrize(("rpm", "line_volts", "plate_amps"), [
    (2000, 22.4, 120.0), (4000, 42.7, 170.0), (6000, 63.5, 180.0),
])  # fmt: skip
def test_a_published_machine_gives_its_nameplate_within_fifteen_percent(
    rpm: float, line_volts: float, plate_amps: float
) -> None:
    # Sarafianos et al., "Characterisation and Modelling of Automotive Lundell Alternators" (2015),
    # digitised in the repository named above: 8 pole pairs, 0.03 ohm and 0.170 mH a phase at nearly
    # full field (read as delta, so a third each in star), open-circuit line volts RMS at 5 A of
    # field; nameplate at 13.5 V. Nothing is tuned.
    hz = 8.0 * rpm / 60.0
    amps = bridge("healthy").amps(
        line_volts * math.sqrt(2.0 / 3.0),
        2.0 * math.pi * hz * 0.170e-3 / 3.0,
        13.5 + 2.0 * 0.9,
        DROP_OHM_PER_PHASE_OHM * 0.03 / 3.0 + 2.0 * DIODE_ON_OHM,
        0.0,
    )
    assert amps == pytest.approx(plate_amps, rel=0.15)


@pytest.mark.parametrize("z", [1.5, 2.0, 3.0, 5.0])
def test_a_sound_bridge_ripples_at_six_and_twelve_times_as_textbooks_have_it(z: float) -> None:
    # ideal six-pulse rectifier: amplitude of the line n times the EMF frequency = 2 / (n^2 - 1)
    # of the mean (any power electronics textbook)
    lines = bridge("healthy").lines(z)
    assert lines[6] == pytest.approx(2.0 / 35.0, rel=0.05)
    assert lines[12] == pytest.approx(2.0 / 143.0, rel=0.05)
    assert lines[1] == lines[2] == lines[3] == 0.0 or max(lines[1], lines[2], lines[3]) < 1e-3
    rms = math.sqrt((lines[6] ** 2 + lines[12] ** 2) / 2.0)
    assert bridge("healthy").ripple(z) == pytest.approx(rms, rel=0.02)


@pytest.mark.parametrize("condition", list(BROKEN))
def test_ripple_lines_are_those_of_the_time_domain(condition: str) -> None:
    hz = 300.0
    # no resistance to speak of, so that z is known: E such that z = 2
    volts = VOLTS + 2.0 * DIODE_VOLTS
    winding = Winding(2.0 * volts / math.sqrt(3.0), hz, 0.004, PHASE_HENRY)
    solved = direct_current(
        winding, volts=VOLTS, diode_volts=DIODE_VOLTS, broken=BROKEN[condition], periods=40
    )
    for multiple, height in bridge(condition).lines(2.0).items():
        assert solved.lines[multiple] == pytest.approx(height, abs=0.03)


def test_open_diode_and_open_phase_are_told_apart_by_their_lines() -> None:
    for z in (1.3, 2.0, 4.0):
        diode, phase = bridge("open-diode").lines(z), bridge("open-phase").lines(z)
        assert diode[1] > 5.0 * diode[6]
        assert phase[1] == 0.0
        assert phase[2] > 5.0 * phase[6]


def test_current_rises_with_speed_in_every_condition() -> None:
    for condition in BROKEN:
        amps = [mapped(condition, rpm) for rpm in range(1000, 8001, 50)]
        assert all(after >= before for before, after in pairwise(amps))


def test_newton_finds_the_same_current_from_anywhere() -> None:
    for near in (0.0, 1.0, 50.0, 500.0):
        amps = bridge("healthy").amps(15.0, 0.1, 15.0, 0.06, near)
        assert amps == pytest.approx(bridge("healthy").amps(15.0, 0.1, 15.0, 0.06, 0.0), abs=1e-3)


def test_the_curve_between_rows_is_the_known_monotone_cubic() -> None:
    # scipy's PchipInterpolator uses the same slopes inside (Fritsch and Butland, 1984)
    x = [1.0, 1.02, 1.1, 1.5, 2.0, 5.0, 8.0]
    y = [0.0, 0.001, 0.05, 0.49, 0.88, 2.67, 4.35]
    ours, theirs = monotone_cubic(x, y), PchipInterpolator(x, y)
    for i in range(1, len(x) - 2):
        for part in (0.0, 0.25, 0.5, 0.9):
            at = x[i] + part * (x[i + 1] - x[i])
            assert ours(at) == pytest.approx(float(theirs(at)), rel=1e-12)
