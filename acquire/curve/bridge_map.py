"""The bridge map: what a diode bridge on a constant voltage lets through.

A three-phase machine whose EMF grows with speed feeds a battery through a diode bridge. Above
the cut-in speed, where the line EMF just reaches the battery voltage and two diode drops, the
direct current climbs towards (3/pi) * flux linkage / inductance. Without winding resistance the
share of that top current depends on z = speed / cut-in speed alone: `phi(z)`. For z above 4 it is
sqrt(1 - (2 sqrt(3) / (pi z))^2) within 1 %, the closed form for continuous conduction (Caliskan,
Perreault, Jahns, Kassakian, "Analysis of three-phase rectifiers with constant-voltage loads",
IEEE Trans. Circuits and Systems I 50(9), 2003); nearer to cut-in, where the current comes in
pulses, the table below was computed by time-domain simulation of the bridge.

Winding resistance raises the voltage the machine works against with the current it gives, which
stretches the speed axis: n/n0 = z (1 + r phi(z)), r = voltage drop at top current / voltage.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from acquire.curve.model import CurveModel, FloatArray
from acquire.curve.monotone_cubic import MonotoneCubic

_Z = (1, 1.02, 1.05, 1.1, 1.15, 1.2, 1.3, 1.4, 1.5, 1.7, 2, 2.5, 3, 4, 5, 6, 8, 12, 20, 50)
_PHI = (
    *(0.0, 0.0015, 0.0089, 0.0767, 0.1513, 0.2265, 0.3738, 0.5036, 0.5910, 0.7025),
    *(0.7951, 0.8740, 0.9113, 0.9545, 0.9705, 0.9800, 0.9885, 0.9948, 0.9985, 0.9998),
)


@lru_cache(maxsize=1)
def _map() -> MonotoneCubic:
    """The table as a curve."""
    return MonotoneCubic(_Z, _PHI)


@lru_cache(maxsize=1)
def _pieces() -> tuple[FloatArray, FloatArray, FloatArray]:
    """The map in pieces, with one below cut-in and one beyond the end, both level.

    The z at which the pieces end, z * phi there, and a column for each piece (10, pieces), in
    pairs: z where it begins and by how much it grows; the same of z * phi, by which resistance
    stretches; d(phi)/dz at both ends; d(z phi)/dz, by which resistance flattens, at both ends;
    phi and by how much it grows.
    """
    grid = (np.linspace(1, 3, 801), np.linspace(3, 12, 181), np.linspace(12, 50, 96))
    z = np.unique(np.concatenate([_Z, *grid]))
    share, rate = _map().at(z)
    stretch, stiffness = z * share, share + z * rate
    rows = (
        *(_began(z, 0.0), _grown(z, 1.0), _began(stretch, 0.0), _grown(stretch, 0.0)),
        *([0.0, *rate[:-1], 0.0], [0.0, *rate[1:], 0.0]),
        *(_began(stiffness, 0.0), [0.0, *stiffness[1:], 0.0]),
        *(_began(share, 0.0), _grown(share, 0.0)),
    )
    return z, stretch, np.array(rows)


def _began(known: FloatArray, below: float) -> FloatArray:
    """What each piece begins with."""
    return np.concatenate([[below], known])


def _grown(known: FloatArray, level: float) -> FloatArray:
    """By how much it grows along each piece."""
    return np.concatenate([[level], np.diff(known), [level]])


def phi(z: float | FloatArray) -> FloatArray:
    """Share of the top current at `z` = speed / cut-in speed, without winding resistance."""
    return _map().at(np.clip(np.asarray(z, float), _Z[0], _Z[-1]))[0]


def current(
    shaft_rpm: float | FloatArray, *, i_max_amps: float, n0_rpm: float, r: float
) -> FloatArray:
    """Amps at `shaft_rpm`; `i_max_amps` in A, cut-in `n0_rpm` in rpm, `r` without dimension."""
    return _current(np.asarray(shaft_rpm, float), np.array([i_max_amps, n0_rpm, r]))


def _along(speed_ratio: FloatArray, r: float) -> tuple[FloatArray, FloatArray]:
    """Share of the top current and its derivative by speed / n0, at each speed / n0.

    A cubic between the ends of a piece, by value and steepness there: smooth for a solver, and
    within 1e-6 of the map stretched by resistance.
    """
    ends, stretches, pieces = _pieces()
    at = pieces.take((ends + r * stretches).searchsorted(speed_ratio, "right"), axis=1)
    begin, length = at[0:2] + r * at[2:4]
    first, last = at[4:6] / (1.0 + r * at[6:8]) * length
    share, grows = at[8:]
    part = (speed_ratio - begin) / length
    bend = first + last - 2.0 * grows
    middle = grows - first - bend
    bow = part * bend
    steepness = (first + part * (2.0 * middle + 3.0 * bow)) / length
    return share + part * (first + part * (middle + bow)), steepness


def _current(shaft_rpm: FloatArray, parameters: FloatArray) -> FloatArray:
    i_max_amps, n0_rpm, r = parameters
    amps: FloatArray = i_max_amps * _along(shaft_rpm / n0_rpm, r)[0]
    return amps


def _traced(shaft_rpm: FloatArray, parameters: Sequence[float]) -> tuple[FloatArray, FloatArray]:
    i_max_amps, n0_rpm, r = parameters
    speed_ratio = shaft_rpm / n0_rpm
    rows = np.empty((3, len(shaft_rpm)))
    share, steepness = _along(speed_ratio, r)
    fall = steepness * speed_ratio * -i_max_amps
    rows[0] = share
    rows[1] = fall / n0_rpm
    # z = speed ratio / (1 + r * share), and resistance stretches by z * share.
    rows[2] = fall * share / (1.0 + r * share)
    return i_max_amps * share, rows


def _jacobian(shaft_rpm: FloatArray, parameters: FloatArray) -> FloatArray:
    return _traced(shaft_rpm, parameters.tolist())[1].T


def _slope(shaft_rpm: FloatArray, parameters: FloatArray) -> FloatArray:
    i_max_amps, n0_rpm, r = parameters
    slope: FloatArray = i_max_amps * _along(shaft_rpm / n0_rpm, r)[1] / n0_rpm
    return slope


BRIDGE_MAP = CurveModel(
    name="bridge map",
    parameter_names=("i_max_amps", "n0_rpm", "r"),
    current=_current,
    jacobian=_jacobian,
    slope=_slope,
    traced=_traced,
    # Three published machines (two 14 V, one 12 V) lie between 0.34 and 0.35; healthy ones
    # between 0.2 and 0.5. The spread is an engineering choice.
    shape_centre=0.35,
    shape_log_sd=0.6,
    shape_bounds=(1e-3, 4.0),
)
