from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import fft, signal

from acquire.findings.ripple_lines import LINES, CannotResolve, lines_of, resolvable_hz

PER_S = 20_000.0


def burst(parts: dict[int, float], emf_hz: float, seconds: float = 0.1) -> list[float]:
    t_s = np.arange(int(PER_S * seconds)) / PER_S
    waves = [a * np.cos(2 * np.pi * k * emf_hz * t_s + 0.7 * k) for k, a in parts.items()]
    return list(10.0 + sum(waves, np.zeros_like(t_s)))


def test_the_lines_of_a_made_up_burst_come_back() -> None:
    parts = {1: 0.5, 2: 0.2, 3: 0.05, 6: 0.057}
    found = lines_of(burst(parts, 302.3), samples_per_s=PER_S, emf_hz=302.3)
    assert found == pytest.approx(parts, abs=0.005)


def test_a_speed_read_half_a_percent_wrong_does_not_lose_the_lines() -> None:
    parts = {1: 0.0, 2: 0.7, 3: 0.0, 6: 0.06}
    found = lines_of(burst(parts, 400.0), samples_per_s=PER_S, emf_hz=402.0)
    assert found[2] == pytest.approx(0.7, rel=0.03)
    assert found[6] == pytest.approx(0.06, rel=0.1)


def test_a_sound_bridge_has_the_sixth_line_of_the_textbook() -> None:
    # Fourier series of a p-pulse rectifier without overlap: line k p has 2 / ((k p)^2 - 1) of the
    # mean (any textbook of power electronics); p = 6.
    emf_hz = 250.0
    t_s = np.arange(int(PER_S * 0.2)) / PER_S
    phases = [np.cos(2 * np.pi * emf_hz * t_s - 2 * math.pi * k / 3) for k in range(3)]
    line_volts = np.max([a - b for a in phases for b in phases], axis=0)
    found = lines_of(list(line_volts), samples_per_s=PER_S, emf_hz=emf_hz)
    assert found[6] / float(np.mean(line_volts)) == pytest.approx(2 / 35, rel=0.02)
    assert max(found[1], found[2], found[3]) < 0.01 * found[6]


def test_the_amplitudes_are_those_of_scipys_fft_where_its_bins_meet_the_lines() -> None:
    rng = np.random.default_rng(7)
    parts = {1: 0.02, 2: 0.031, 3: 0.004, 4: 0.007, 6: 0.05, 12: 0.012}
    samples = np.asarray(burst(parts, 250.0)) + rng.normal(0.0, 0.002, 2000)
    spectrum = 2.0 * np.abs(fft.rfft(samples)) / len(samples)  # 10 Hz a bin, whole periods
    found = lines_of(list(samples), samples_per_s=PER_S, emf_hz=250.0)
    assert found == pytest.approx({k: spectrum[25 * k] for k in LINES}, abs=4e-4)


@pytest.mark.parametrize("emf_hz", [83.1, 302.3, 777.7, 1311.0])
def test_the_amplitudes_are_those_of_scipys_chirp_transform_between_bins(emf_hz: float) -> None:
    rng = np.random.default_rng(3)
    samples = np.asarray(burst({2: 0.7, 4: 0.1, 6: 0.4}, emf_hz)) + rng.normal(0.0, 0.01, 2000)
    window = signal.get_window("hann", len(samples), fftbins=False)
    weighed = (samples - samples.mean()) * window * 2.0 / window.sum()
    turn = np.exp(-2j * np.pi * emf_hz / PER_S)
    reference = np.abs(signal.czt(weighed, m=7, w=turn))
    found = lines_of(list(samples), samples_per_s=PER_S, emf_hz=emf_hz)
    assert found == pytest.approx({k: reference[k] for k in LINES}, abs=2e-3)


def test_a_burst_of_eight_periods_of_the_second_and_sixth_line_is_resolved() -> None:
    low_hz, high_hz = resolvable_hz(2000, 1.0 / PER_S)
    assert (low_hz, high_hz) == pytest.approx((80.0, 20_000.0 / 15.0))
    for emf_hz in (low_hz, high_hz):
        found = lines_of(burst({2: 0.3, 6: 0.5}, emf_hz), samples_per_s=PER_S, emf_hz=emf_hz)
        assert found == pytest.approx({1: 0.0, 2: 0.3, 3: 0.0, 6: 0.5}, abs=0.01)


@pytest.mark.parametrize(
    ("emf_hz", "kind", "words"),
    [
        (50.0, "short", "5.0 periods of the EMF at 50 Hz, and 8 are needed: let it take 3200"),
        (3000.0, "coarse", "samples 50 us apart are too far apart for an EMF of 3000 Hz: let them "
         "be 22 us apart or less"),
        (0.0, "still", "nothing turns"),
    ],
)  # fmt: skip
def test_a_burst_that_will_not_do_says_what_it_would_need(
    emf_hz: float, kind: str, words: str
) -> None:
    with pytest.raises(CannotResolve, match=words) as caught:
        lines_of(burst({1: 1.0}, emf_hz), samples_per_s=PER_S, emf_hz=emf_hz)
    assert caught.value.kind == kind


def test_what_it_would_need_is_enough() -> None:
    longer = lines_of(burst({6: 1.0}, 50.0, 3200 / PER_S), samples_per_s=PER_S, emf_hz=50.0)
    assert longer[6] == pytest.approx(1.0, abs=0.01)
    t_s = np.arange(2000) * 22e-6
    fine = list(np.cos(2 * np.pi * 6 * 3000.0 * t_s))
    finer = lines_of(fine, samples_per_s=1.0 / 22e-6, emf_hz=3000.0)
    assert finer[6] == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("pole_pairs", [5, 7, 8, 9])
def test_lines_looked_for_with_a_wrong_number_of_poles_are_not_told(pole_pairs: int) -> None:
    rng = np.random.default_rng(pole_pairs)
    sound = np.asarray(burst({6: 0.05, 12: 0.012}, 300.0)) + rng.normal(0.0, 0.002, 2000)
    with pytest.raises(CannotResolve, match="number of pole pairs"):
        lines_of(list(sound), samples_per_s=PER_S, emf_hz=300.0 * pole_pairs / 6)


def test_noise_alone_is_not_told_to_have_lines() -> None:
    for seed in range(50):
        noise = np.random.default_rng(seed).normal(14.0, 0.01, 2000)
        with pytest.raises(CannotResolve):
            lines_of(list(noise), samples_per_s=PER_S, emf_hz=300.0)


@pytest.mark.parametrize(("emf_hz", "seconds"), [(50.0, 0.1), (3000.0, 0.1), (0.0, 0.1)])
def test_a_burst_too_short_or_too_coarse_is_refused(emf_hz: float, seconds: float) -> None:
    with pytest.raises(CannotResolve):
        lines_of(burst({1: 1.0}, emf_hz, seconds), samples_per_s=PER_S, emf_hz=emf_hz)


def test_twelve_bits_over_twenty_volts_are_enough_for_the_lines_of_a_sound_unit() -> None:
    digit = 20.0 / 4096
    rng = np.random.default_rng(12)
    for parts in ({2: 0.0, 6: 0.03}, {2: 0.022, 6: 0.03}):
        samples = 4.0 + np.asarray(burst(parts, 150.3)) + rng.normal(0.0, 0.3 * digit, 2000)
        shown = np.round(samples / digit) * digit
        found = lines_of(list(shown), samples_per_s=PER_S, emf_hz=150.0)
        assert found[6] == pytest.approx(0.03, rel=0.05)
        assert found[2] == pytest.approx(parts[2], abs=0.001)


def test_eight_bits_over_twenty_volts_do_not_invent_a_second_line() -> None:
    digit, flat = 20.0 / 256, 0
    for offset in np.linspace(0.0, digit, 9):
        samples = offset + np.asarray(burst({6: 0.03}, 150.3))
        shown = list(np.round(samples / digit) * digit)
        if max(shown) == min(shown):
            flat += 1  # the ripple stays within one digit: no lines at all
            continue
        found = lines_of(shown, samples_per_s=PER_S, emf_hz=150.0)
        assert found[2] < 0.1 * found[6]
    assert flat < 6
