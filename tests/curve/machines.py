"""Curves known beforehand: a machine of the literature, and one of other physics than the fit's."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

POLE_PAIRS, INDUCTANCE_H = 6, 120e-6
EMF_RMS_AT_180_HZ = 10.716
BUS_VOLTS, DIODE_VOLTS = 14.0, 1.0
"""A star-connected test machine: J. Rivas, D. Perreault and others, on alternators with
switched-mode rectifiers, 2004 (resistance 37 milliohms a phase), on 14 V with 1 V a diode."""

TIME_DOMAIN = (
    *((1200, 4.2), (1300, 12.6), (1500, 29.7), (1800, 52.7), (2100, 67.1)),
    *((2500, 78.5), (3000, 87.2), (4000, 95.6), (6000, 101.7), (8000, 103.8)),
)
"""(rpm, A) of that machine by time-domain simulation of the whole circuit, converged to 0.3 A."""


def literature_top_amps() -> float:
    """(3/pi) flux linkage / inductance: what no speed can exceed."""
    flux_linkage = EMF_RMS_AT_180_HZ * math.sqrt(2) / (2 * math.pi * 180)
    return 3 / math.pi * flux_linkage / INDUCTANCE_H


def literature_cut_in_rpm() -> float:
    """Where the peak of the line EMF reaches the bus and two diode drops."""
    volts_per_hz = EMF_RMS_AT_180_HZ * math.sqrt(2) / 180
    return (BUS_VOLTS + 2 * DIODE_VOLTS) / (math.sqrt(3) * volts_per_hz) * 60 / POLE_PAIRS


def circuit_current(
    shaft_rpm: FloatArray, *, i_max_amps: float, n0_rpm: float, r: float
) -> FloatArray:
    """The closed form of (k n)^2 = (V + I R)^2 + (X n I)^2 (M. Caliskan, D. Perreault, T. Jahns,
    J. Kassakian, 2003, in its fundamental-wave form): other physics than the bridge map."""
    u = np.maximum(np.asarray(shaft_rpm, float) / n0_rpm, 1.0)
    amps: FloatArray = i_max_amps * (u * np.sqrt(u * u - 1 + r * r) - r) / (u * u + r * r)
    return amps
