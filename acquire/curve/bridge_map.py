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
from scipy.interpolate import PchipInterpolator

from acquire.curve.model import CurveModel, FloatArray

_Z = (1, 1.02, 1.05, 1.1, 1.15, 1.2, 1.3, 1.4, 1.5, 1.7, 2, 2.5, 3, 4, 5, 6, 8, 12, 20, 50)
_PHI = (
    *(0.0, 0.0015, 0.0089, 0.0767, 0.1513, 0.2265, 0.3738, 0.5036, 0.5910, 0.7025),
    *(0.7951, 0.8740, 0.9113, 0.9545, 0.9705, 0.9800, 0.9885, 0.9948, 0.9985, 0.9998),
)


@lru_cache(maxsize=1)
def _grid() -> tuple[FloatArray, FloatArray, FloatArray]:
    """The map on a grid fine enough for straight lines between: z, phi, d(phi)/dz."""
    smooth = PchipInterpolator(_Z, _PHI)
    z = np.concatenate(
        [np.linspace(1, 3, 801), np.linspace(3, 12, 401)[1:], np.linspace(12, 50, 121)[1:]]
    )
    share: FloatArray = smooth(z)
    rate: FloatArray = smooth.derivative()(z)
    return z, share, rate


@lru_cache(maxsize=1)
def _pieces() -> tuple[FloatArray, FloatArray, FloatArray]:
    """The grid as straight pieces, with one below cut-in and one beyond the end, both level.

    The z at which the pieces end, z * phi there, and a column for each piece (6, pieces): z, phi
    and z * phi where it begins, and by how much each grows along it.
    """
    z, share, _ = _grid()
    known = np.stack([z, share, z * share])
    begins = np.column_stack([[0.0, 0.0, 0.0], known])
    grows = np.column_stack([[1.0, 0.0, 0.0], np.diff(known), [1.0, 0.0, 0.0]])
    return z, known[2], np.vstack([begins, grows])


def phi(z: float | FloatArray) -> FloatArray:
    """Share of the top current at `z` = speed / cut-in speed, without winding resistance."""
    grid_z, grid_phi, _ = _grid()
    share: FloatArray = np.interp(np.asarray(z, float), grid_z, grid_phi)
    return share


def current(
    shaft_rpm: float | FloatArray, *, i_max_amps: float, n0_rpm: float, r: float
) -> FloatArray:
    """Amps at `shaft_rpm`; `i_max_amps` in A, cut-in `n0_rpm` in rpm, `r` without dimension."""
    return _current(np.asarray(shaft_rpm, float), np.array([i_max_amps, n0_rpm, r]))


def _shares(shaft_rpm: FloatArray, parameters: FloatArray) -> tuple[FloatArray, ...]:
    """z, phi and d(phi)/du at each speed, u = speed / n0."""
    _, n0_rpm, r = parameters
    grid_z, grid_phi, grid_rate = _grid()
    speed_ratio = shaft_rpm / n0_rpm
    z = np.interp(speed_ratio, grid_z * (1 + r * grid_phi), grid_z)
    share = np.interp(z, grid_z, grid_phi)
    rate = np.interp(z, grid_z, grid_rate)
    inside = (z > 1) & (z < grid_z[-1])
    return z, share, np.where(inside, rate / (1 + r * share + z * r * rate), 0.0)


def _current(shaft_rpm: FloatArray, parameters: FloatArray) -> FloatArray:
    _, n0_rpm, r = parameters
    grid_z, grid_phi, _ = _grid()
    amps: FloatArray = parameters[0] * np.interp(
        shaft_rpm / n0_rpm, grid_z * (1 + r * grid_phi), grid_phi
    )
    return amps


def _jacobian(shaft_rpm: FloatArray, parameters: FloatArray) -> FloatArray:
    i_max_amps, n0_rpm, _ = parameters
    z, share, rate = _shares(shaft_rpm, parameters)
    by_n0 = -i_max_amps * rate * shaft_rpm / n0_rpm**2
    by_r = -i_max_amps * rate * z * share
    return np.column_stack([share, by_n0, by_r])


def _slope(shaft_rpm: FloatArray, parameters: FloatArray) -> FloatArray:
    i_max_amps, n0_rpm, _ = parameters
    slope: FloatArray = i_max_amps * _shares(shaft_rpm, parameters)[2] / n0_rpm
    return slope


def _traced(shaft_rpm: FloatArray, parameters: Sequence[float]) -> tuple[FloatArray, FloatArray]:
    i_max_amps, n0_rpm, r = parameters
    ends, stretches, pieces = _pieces()
    speed_ratio = shaft_rpm / n0_rpm
    piece = (ends + r * stretches).searchsorted(speed_ratio, "right")
    z, share, stretch, z_grows, share_grows, stretch_grows = pieces.take(piece, axis=1)
    length = z_grows + r * stretch_grows
    along = (speed_ratio - z - r * stretch) / length
    rows = np.empty((3, len(shaft_rpm)))
    rows[0] = share + along * share_grows
    fall = share_grows / length * -i_max_amps
    rows[1] = fall * speed_ratio / n0_rpm
    rows[2] = fall * (stretch + along * stretch_grows)
    return i_max_amps * rows[0], rows


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
