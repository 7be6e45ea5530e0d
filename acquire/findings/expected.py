"""What a sound unit of this kind gives at any speed, in the state of the run."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from acquire.curve import bridge_map
from acquire.curve.fit import CannotFit, CurvePoint, fit_curve
from acquire.curve.model import FloatArray
from acquire.judge.hot_loss import hot_loss
from profiles.alternator import RatedCurve

FIELD_SHARE = 0.04
"""Field current over top current (computed for five invented machines: 0.03 to 0.045)."""
ONE_POINT_N0_RPM, ONE_POINT_TOP = 950.0, 1.06
"""Where only one rated point is known: a typical cut-in speed, and top over rated current."""
ROUNDED = 0.05
"""A rating's points are round figures and limits: taken as exact they would bend the curve more
than any bridge does (our choice)."""
COLD_N0 = 0.94
"""Cut-in speed cold over warm (computed, copper at 25 °C against a warm rotor)."""


@dataclass(frozen=True, slots=True)
class Expected:
    """The bridge map through the rated points."""

    i_max_amps: float
    n0_rpm: float
    r: float
    n0_sd: float
    """Relative standard deviation of a sound unit's cut-in speed."""
    from_state: Literal["warm", "cold"]
    to_state: Literal["warm", "cold"]
    net_of_field: bool

    @property
    def field_amps(self) -> float:
        """About what the field takes off the output [A]; 0 where the bench feeds it."""
        return FIELD_SHARE * self.i_max_amps if self.net_of_field else 0.0

    @property
    def cut_in_rpm(self) -> float:
        """Cut-in speed in the state of the run."""
        cooler = self.to_state == "cold" and self.from_state == "warm"
        return self.n0_rpm * (COLD_N0 if cooler else 1.0)

    def amps(self, shaft_rpm: FloatArray, *, flux: float = 1.0, speed: float = 1.0) -> FloatArray:
        """Net amps with the flux at a share of what it should be, or a speed read wrong."""
        rated: FloatArray = bridge_map.current(
            shaft_rpm * speed,
            i_max_amps=self.i_max_amps * flux,
            n0_rpm=self.n0_rpm / flux,
            r=self.r * flux,
        )
        return rated * self._state_factor(shaft_rpm)

    def _state_factor(self, shaft_rpm: FloatArray) -> FloatArray:
        if self.from_state == self.to_state:
            return np.ones_like(shaft_rpm)
        kept = np.array(
            [
                1.0 - hot_loss(max(float(rpm), 1.0), cut_in_rpm=self.n0_rpm).fraction
                for rpm in shaft_rpm
            ]
        )
        factor: FloatArray = np.maximum(kept, 0.5)
        return np.reciprocal(factor) if self.to_state == "cold" else factor


def expected_of(
    rated: RatedCurve | None, *, run_state: Literal["warm", "cold"] | None
) -> Expected | None:
    """The curve of a sound unit; None without a rated curve."""
    if rated is None or not rated.points:
        return None
    i_max_amps, n0_rpm, r, n0_sd = _shape(rated)
    return Expected(
        i_max_amps=i_max_amps,
        n0_rpm=n0_rpm,
        r=r,
        n0_sd=n0_sd,
        from_state=rated.state,
        to_state=run_state or rated.state,
        net_of_field=rated.field == "fed by unit",
    )


def _shape(rated: RatedCurve) -> tuple[float, float, float, float]:
    try:
        fit = fit_curve([CurvePoint(rpm, amps, ROUNDED * amps) for rpm, amps in rated.points])
    except CannotFit:
        return ONE_POINT_TOP * rated.points[-1][1], ONE_POINT_N0_RPM, 0.35, 0.15
    top, foot, shape = (fit.parameters[name].value for name in ("i_max_amps", "n0_rpm", "r"))
    return top, foot, shape, 0.035 if len(rated.points) > 2 else 0.06
