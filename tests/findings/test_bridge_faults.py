from __future__ import annotations

import math

import numpy as np
import pytest

from acquire.findings.bridge_faults import (
    OPEN_DIODE,
    OPEN_PHASE,
    SOUND,
    TWO_OPEN_DIODES,
    UNEVEN_PHASE,
    BridgeFault,
)
from drivers.simulated.bridge import Bridge

FAULTS = {
    "open-diode": OPEN_DIODE,
    "two-open-diodes": TWO_OPEN_DIODES,
    "open-phase": OPEN_PHASE,
    "uneven-phase": UNEVEN_PHASE,
}


def test_the_ripple_of_a_sound_bridge_is_that_of_the_textbook() -> None:
    # Lines 6 and 12 of a six-pulse rectifier: 2/35 and 2/143 of the mean (Fourier series).
    rms = math.hypot(2 / 35, 2 / 143) / math.sqrt(2)
    assert SOUND.ripple_at(np.array([3.0]))[0] == pytest.approx(rms, rel=0.02)


PHASE_VOLTS, PHASE_OHM, PHASE_HENRY, POLE_PAIRS = 10.716 * math.sqrt(2), 0.037, 120e-6, 6
"""Peak at 180 Hz; Rivas, Perreault and Keim 2004, the machine our tables were computed for."""
BUS_VOLTS = 14.0 + 2 * 1.0
CUT_IN_RPM = 1097.0


def amps_by_the_rig(condition: str, speed_ratio: float) -> float:
    """The same machine through the simulated rig's bridge, with its resistance."""
    emf_hz = POLE_PAIRS * speed_ratio * CUT_IN_RPM / 60
    return Bridge(condition).amps(
        PHASE_VOLTS * emf_hz / 180,
        2 * math.pi * emf_hz * PHASE_HENRY,
        BUS_VOLTS,
        math.pi**2 / 6 * PHASE_OHM + 0.004,
        20.0,
    )


@pytest.mark.parametrize("name", FAULTS)
def test_two_calculations_of_a_fault_agree(name: str) -> None:
    """Ours was integrated in time with resistance, the rig's map without and put on after."""
    for speed_ratio in (1.4, 1.8, 2.5, 4.0, 5.5):
        share = amps_by_the_rig(name, speed_ratio) / amps_by_the_rig("healthy", speed_ratio)
        ours = FAULTS[name].share_at(np.array([speed_ratio]))[0]
        assert ours == pytest.approx(share, abs=0.06), speed_ratio
    ripple = FAULTS[name].ripple_at(np.array([5.0]))[0]
    assert ripple == pytest.approx(Bridge(name).ripple(5.0), rel=0.25)


@pytest.mark.parametrize("fault", [*FAULTS.values(), SOUND])
def test_shares_and_ripple_hold_beyond_the_ends(fault: BridgeFault) -> None:
    ends = fault.share_at(np.array([0.5, 100.0]))
    assert tuple(ends) == (fault.share[0], fault.share[-1])
