from __future__ import annotations

import math

import numpy as np
import pytest

from acquire.findings.ripple_lines import CannotResolve, lines_of

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


@pytest.mark.parametrize(("emf_hz", "seconds"), [(50.0, 0.1), (3000.0, 0.1), (0.0, 0.1)])
def test_a_burst_too_short_or_too_coarse_is_refused(emf_hz: float, seconds: float) -> None:
    with pytest.raises(CannotResolve):
        lines_of(burst({1: 1.0}, emf_hz, seconds), samples_per_s=PER_S, emf_hz=emf_hz)
